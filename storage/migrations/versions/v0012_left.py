"""Since when a child is on the roster no more."""
from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """One column; who left before is noticed when the hall is loaded next."""
    words = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
    op.add_column("child", sa.Column("left_on", words))
