"""The first tables, and the triggers that refuse every change of what was recorded."""

from alembic import op

from spread.office.migrations.triggers import refuse_changes
from spread.office.tables import metadata

revision = "0001"
down_revision = None

_FIRST = (
    "building", "building_file", "log_row", "photograph", "audit", "person", "person_role", "person_building",
    "sign_in", "secret",
)  # fmt: skip


def upgrade() -> None:
    """Make the tables and their triggers."""
    metadata.create_all(op.get_bind(), tables=[metadata.tables[name] for name in _FIRST])
    refuse_changes("log_row", "photograph", "audit")
