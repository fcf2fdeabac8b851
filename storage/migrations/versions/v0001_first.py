"""The first tables."""
from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def _key(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.String, primary_key=True)


def _number_key(name: str) -> sa.Column[int]:
    return sa.Column(name, sa.Integer, primary_key=True, autoincrement=False)


def _text(name: str, *, empty: bool = False) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=empty)


def _instant(name: str, *, empty: bool = False) -> sa.Column[int]:
    return sa.Column(name, sa.BigInteger, nullable=empty)


def _where_given(name: str, table: str, columns: list[str], *, unique: bool = False) -> None:
    given = sa.column(columns[-1]).is_not(None)
    op.create_index(name, table, columns, unique=unique, sqlite_where=given, postgresql_where=given)


def upgrade() -> None:
    """Everything is new."""
    _clubs()
    _books()
    _talks()


def _clubs() -> None:
    op.create_table("club", _key("club"), _text("body"))
    op.create_table("person", _key("club"), _key("person"), _text("body"))
    op.create_table("scheme", _key("club"), _number_key("version"), _text("body"))
    op.create_table("address", _key("channel"), _key("address"), _text("club"), _text("person"))
    op.create_index("address_of", "address", ["club", "person"])
    op.create_table(
        "invitation", _key("digest"), _text("club"), _text("person", empty=True), _text("child", empty=True),
        _instant("expires_at"), sa.Column("used", sa.Boolean, nullable=False),
    )


def _books() -> None:
    op.create_table(
        "child", _key("club"), _key("child"), _text("class_id"),
        sa.Column("place", sa.Integer, nullable=False), _text("name"), _text("award"),
    )
    op.create_index("child_of_class", "child", ["club", "class_id", "place"])
    op.create_table("standing", _key("club"), _key("child"), _key("skill"), _text("body"))
    op.create_table("award_way", _key("club"), _key("child"), _key("award"), _text("to"), _text("day"))
    op.create_table("lesson", _key("club"), _key("class_id"), _key("lesson"), _text("body"))
    op.create_table("class_group", _key("club"), _key("class_id"), _key("name"), _text("children"))
    op.create_table(
        "reminder", _key("club"), _key("class_id"), _key("key"), _text("person"),
        _instant("due_at", empty=True), _text("body", empty=True), sqlite_with_rowid=False,
    )
    _where_given("reminder_due", "reminder", ["due_at"])


def _talks() -> None:
    op.create_table(
        "talk", _key("club"), _key("person"), sa.Column("version", sa.Integer, nullable=False), _text("body"),
    )
    op.create_table(
        "heard", _key("message"), _text("club"), _text("person"), _text("fingerprint"), _text("seqs"),
        _instant("received_at"), sqlite_with_rowid=False,
    )
    op.create_table(
        "said", _key("club"), _key("person"), _number_key("seq"), _instant("at"), _text("text"),
        _text("choices"), _text("in_reply_to", empty=True), _instant("cursor", empty=True),
    )
    _where_given("said_cursor", "said", ["cursor"], unique=True)
    op.create_table(
        "fact", _key("club"), sa.Column("seq", sa.BigInteger, primary_key=True, autoincrement=False),
        _text("message"), _text("by"), _text("kind"), _text("child", empty=True), _text("skill", empty=True),
        _text("lesson", empty=True), _text("class_id", empty=True), _text("target", empty=True), _text("body"),
    )
    op.create_index("fact_of_child", "fact", ["club", "child", "skill"])
    op.create_index("fact_of_message", "fact", ["club", "message"])
    op.create_index("fact_of_lesson", "fact", ["club", "lesson"])
    _where_given("fact_voids", "fact", ["club", "target"])
    op.create_table("counter", _key("name"), _instant("value"))
