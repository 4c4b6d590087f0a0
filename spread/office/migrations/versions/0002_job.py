"""A column for what was done at a treatment."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Add the column where the first step did not make it; triggers stay as they are."""
    has = {column["name"] for column in sa.inspect(op.get_bind()).get_columns("log_row")}
    if "job" not in has:
        op.add_column("log_row", sa.Column("job", sa.Text, nullable=False, server_default=""))
