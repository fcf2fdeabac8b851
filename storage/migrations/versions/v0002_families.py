"""Families who asked to be told, and what was agreed for a child."""
from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def _key(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.String, primary_key=True)


def upgrade() -> None:
    """Two tables."""
    op.create_table("contact", _key("club"), _key("child"), _key("parent"), sa.Column("body", sa.Text, nullable=False))
    op.create_table("agreed", _key("club"), _key("child"), sa.Column("body", sa.Text, nullable=False))
