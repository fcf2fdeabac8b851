"""What a fault of ours keeps from being handled, so that it is tried a few times and then put aside."""
from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """One table; nothing was noted before, so it begins empty."""
    byte_order = "C" if op.get_bind().dialect.name == "postgresql" else None
    key, words = sa.VARCHAR(collation=byte_order), sa.Text(collation=byte_order)
    op.create_table(
        "trouble", sa.Column("club", key, primary_key=True), sa.Column("id", key, primary_key=True),
        sa.Column("what", words, nullable=False), sa.Column("tries", sa.Integer, nullable=False),
        sa.Column("kind", words, nullable=False), sa.Column("place", words, nullable=False),
        sa.Column("at", sa.BigInteger, nullable=False),
    )
