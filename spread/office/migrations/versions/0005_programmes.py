"""Accepted programmes and their forecasts, to which lines are only added."""

from alembic import op

from spread.office.migrations.triggers import refuse_changes
from spread.office.tables import metadata

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Make the table and its triggers."""
    metadata.create_all(op.get_bind(), tables=[metadata.tables["programme"]])
    refuse_changes("programme")
