"""The first tables, and the triggers that refuse every change of what was recorded.

The triggers are written by hand: Alembic's autogenerate neither sees nor keeps them, so a step that makes a
table anew must write its triggers anew too (``tests/test_office.py`` tries every table on both databases).
"""

from alembic import op

from spread.office.tables import APPEND_ONLY, metadata

revision = "0001"
down_revision = None

_FIRST = (
    "building", "building_file", "log_row", "photograph", "audit", "person", "person_role", "person_building",
    "sign_in", "secret",
)  # fmt: skip
_SQLITE = """CREATE TRIGGER {table}_no_{change} BEFORE {change} ON {table}
BEGIN SELECT RAISE(ABORT, '{table} is append-only'); END"""
_POSTGRESQL = (
    """CREATE FUNCTION refuse_change() RETURNS trigger AS $$
BEGIN RAISE EXCEPTION '% is append-only', TG_TABLE_NAME; END $$ LANGUAGE plpgsql""",
    """CREATE TRIGGER {table}_no_change BEFORE UPDATE OR DELETE ON {table}
FOR EACH ROW EXECUTE FUNCTION refuse_change()""",
    """CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table}
FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()""",
)


def upgrade() -> None:
    """Make the tables and their triggers."""
    bind = op.get_bind()
    metadata.create_all(bind, tables=[metadata.tables[name] for name in _FIRST])
    if bind.dialect.name == "sqlite":
        for table in APPEND_ONLY:
            for change in ("UPDATE", "DELETE"):
                op.execute(_SQLITE.format(table=table, change=change))
        return
    op.execute(_POSTGRESQL[0])
    for table in APPEND_ONLY:
        for trigger in _POSTGRESQL[1:]:
            op.execute(trigger.format(table=table))
