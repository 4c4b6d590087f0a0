"""${message}."""

from alembic import op

revision = ${repr(up_revision)}
down_revision = ${repr(down_revision)}


def upgrade() -> None:
    """Take the step. Triggers that refuse changes are written here by hand: autogenerate does not see them."""
    ${upgrades if upgrades else "pass"}
