"""The browsers on which people have come in."""
from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False)


def upgrade() -> None:
    """One table; nobody has come in by a browser before, so it begins empty."""
    op.create_table(
        "phone", sa.Column("digest", sa.String, primary_key=True), _text("id"), _text("club"), _text("person"),
        sa.Column("since", sa.BigInteger, nullable=False), sa.Column("ended", sa.Boolean, nullable=False),
    )
    op.create_index("phone_of_person", "phone", ["club", "person", "since"])
