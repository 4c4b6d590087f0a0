"""Files of the firm's own, that belong to no building."""

from alembic import op

from spread.office.tables import metadata

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Make the table."""
    metadata.create_all(op.get_bind(), tables=[metadata.tables["firm_file"]])
