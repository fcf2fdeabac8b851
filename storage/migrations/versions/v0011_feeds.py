"""Links by which calendar programs take somebody's lessons."""
from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None


def _key(name: str) -> sa.Column[str]:
    words = sa.String().with_variant(sa.VARCHAR(collation="C"), "postgresql")
    return sa.Column(name, words, primary_key=True)


def upgrade() -> None:
    """One table, which begins empty."""
    words = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
    op.create_table("feed", _key("club"), _key("person"), sa.Column("digest", words, nullable=False))
    op.create_index("feed_by_digest", "feed", ["digest"], unique=True)
