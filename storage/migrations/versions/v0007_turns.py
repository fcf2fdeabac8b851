"""Turns and leases, for several processes on one database; words in order by their bytes on PostgreSQL too."""
from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def _key(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.String, primary_key=True)


def upgrade() -> None:
    """Two tables, which begin empty: what nobody wrote to since had no turn, and nobody held anything."""
    op.create_table(
        "lease", _key("name"), sa.Column("holder", sa.Text, nullable=False),
        sa.Column("until", sa.BigInteger, nullable=False),
    )
    op.create_table(
        "turn", _key("club"), _key("person"), sa.Column("revision", sa.BigInteger, nullable=False),
        sa.Column("lately", sa.Text, nullable=False),
    )
    if op.get_bind().dialect.name == "postgresql":
        _by_their_bytes()


def _by_their_bytes() -> None:
    found = sa.inspect(op.get_bind())
    for table in found.get_table_names():
        if table == "alembic_version":
            continue
        for column in found.get_columns(table):
            words = column["type"]
            if isinstance(words, sa.String):
                kind = sa.Text(collation="C") if isinstance(words, sa.Text) else sa.VARCHAR(collation="C")
                op.alter_column(table, column["name"], type_=kind)
