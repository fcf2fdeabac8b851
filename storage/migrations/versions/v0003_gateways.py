"""Gateways with their keys, where each person was last heard, and the way of unasked messages out."""
from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def _key(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.String, primary_key=True)


def _text(name: str, *, empty: bool = False) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=empty)


def _where_given(name: str, table: str, columns: list[str]) -> None:
    given = sa.column(columns[-1]).is_not(None)
    op.create_index(name, table, columns, sqlite_where=given, postgresql_where=given)


def upgrade() -> None:
    """Four tables more; nobody was ever heard through a gateway, so they begin empty."""
    op.create_table("gateway", _key("name"), _text("push_url", empty=True), _text("push_secret", empty=True))
    op.create_table(
        "gateway_key", _key("digest"), _text("id"), _text("gateway"), sa.Column("ended", sa.Boolean, nullable=False),
    )
    op.create_index("key_of_gateway", "gateway_key", ["gateway", "id"])
    op.create_table("reach", _key("club"), _key("person"), _text("channel"), _text("address"), _text("via"))
    op.create_table(
        "letter", _key("id"), _text("club"), _text("person"), sa.Column("seq", sa.Integer, nullable=False),
        _text("via"), _text("channel"), _text("address"), sa.Column("at", sa.BigInteger, nullable=False),
        sa.Column("cursor", sa.BigInteger), sa.Column("held_until", sa.BigInteger),
        sa.Column("tries", sa.Integer, nullable=False),
    )
    _where_given("letter_waits", "letter", ["via", "cursor"])
    _where_given("letter_old", "letter", ["at", "cursor"])
    _where_given("letter_held", "letter", ["held_until"])
    op.create_index("letter_of_person", "letter", ["club", "person", "seq"])
