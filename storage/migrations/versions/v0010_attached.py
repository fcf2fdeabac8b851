"""Files that go with a message: how they are made, and the secret by which they are fetched."""
from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Two columns, empty for all that was said before, and an index of the few that have a secret."""
    words = sa.Text(collation="C") if op.get_bind().dialect.name == "postgresql" else sa.Text()
    op.add_column("said", sa.Column("attached", words))
    op.add_column("said", sa.Column("secret", words))
    given = sa.text("secret IS NOT NULL")
    op.create_index("said_secret", "said", ["secret"], unique=True, sqlite_where=given, postgresql_where=given)
