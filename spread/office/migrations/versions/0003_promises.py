"""The lists of doors that were made, with what they promised."""

from alembic import op

from spread.office.migrations.triggers import refuse_changes
from spread.office.tables import metadata

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Make the table and its triggers."""
    metadata.create_all(op.get_bind(), tables=[metadata.tables["promise"]])
    refuse_changes("promise")
