"""Who was shown what of whom."""
from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """One table; nobody wrote it down before, so it begins empty."""
    words = sa.String().with_variant(sa.VARCHAR(collation="C"), "postgresql")
    op.create_table(
        "sight", *(
            sa.Column(name, words, primary_key=True) for name in ("club", "day", "person", "what", "class_id", "child")
        ),
        sa.Column("at", sa.BigInteger, nullable=False), sqlite_with_rowid=False,
    )
