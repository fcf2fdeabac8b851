"""Where phones are told of something while their page is closed."""
from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Three columns; no phone has asked for it before, so they begin empty."""
    for name in ("endpoint", "p256dh", "auth"):
        op.add_column("phone", sa.Column(name, sa.Text))
