"""The hall's pace: the lines of each skill that were timed lately in a class."""
from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def _key(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.String, primary_key=True)


def upgrade() -> None:
    """One table; no line was timed before, so it begins empty."""
    op.create_table("pace", _key("club"), _key("class_id"), _key("skill"), sa.Column("body", sa.Text, nullable=False))
