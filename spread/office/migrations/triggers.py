"""Triggers that refuse every change of a table to which lines are only added.

They are written by hand: Alembic's autogenerate neither sees nor keeps them, so a step that makes a table
anew must write its triggers anew too (``tests/test_office.py`` tries every table on both databases).
"""

from __future__ import annotations

from alembic import op

_SQLITE = """CREATE TRIGGER {table}_no_{change} BEFORE {change} ON {table}
BEGIN SELECT RAISE(ABORT, '{table} is append-only'); END"""
_POSTGRESQL = (
    """CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger AS $$
BEGIN RAISE EXCEPTION '% is append-only', TG_TABLE_NAME; END $$ LANGUAGE plpgsql""",
    """CREATE TRIGGER {table}_no_change BEFORE UPDATE OR DELETE ON {table}
FOR EACH ROW EXECUTE FUNCTION refuse_change()""",
    """CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table}
FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()""",
)


def refuse_changes(*tables: str) -> None:
    """Make the triggers of tables that were just made."""
    lite = op.get_bind().dialect.name == "sqlite"
    for table in tables:
        steps = [_SQLITE.format(table=table, change=change) for change in ("UPDATE", "DELETE")]
        for step in steps if lite else (text.format(table=table) for text in _POSTGRESQL):
            op.execute(step)
