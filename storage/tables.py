"""The tables. Every key begins with the club; instants are microseconds, bodies JSON.

What lives here: the shape that the newest migration leaves behind (a test holds the two together).
There are no foreign keys: one transaction writes a step whole, `forget` takes away whole, and rows of
strangers belong to no club.

A commit takes about as long as it has pages to write. So what is mostly empty is indexed only where it is not, an
index on what an update sets again is avoided, and small rows that come in any order live in the tree of their key.
"""
from __future__ import annotations

from sqlalchemy import VARCHAR, BigInteger, Boolean, Column, Index, Integer, MetaData, String, Table, Text, column

metadata = MetaData()
# In order by their bytes on every engine: no update of a machine's language rules puts an index out of order.
KEY = String().with_variant(VARCHAR(collation="C"), "postgresql")
WORDS = Text().with_variant(Text(collation="C"), "postgresql")


def _key(name: str) -> Column[str]:
    return Column(name, KEY, primary_key=True)


def _text(name: str, *, empty: bool = False) -> Column[str]:
    return Column(name, WORDS, nullable=empty)


def _where_given(name: str, *columns: str, unique: bool = False) -> Index:
    """An index that leaves out the rows whose last column here is null."""
    given = column(columns[-1]).is_not(None)
    return Index(name, *columns, unique=unique, sqlite_where=given, postgresql_where=given)


club = Table("club", metadata, _key("club"), _text("body"))
person = Table("person", metadata, _key("club"), _key("person"), _text("body"))
scheme = Table(
    "scheme", metadata, _key("club"), Column("version", Integer, primary_key=True, autoincrement=False),
    _text("body"),
)

# Who is behind an address, and what a code opens: the only look-ups that find out which club it is.
address = Table(
    "address", metadata, _key("channel"), _key("address"), _text("club"), _text("person"),
    Index("address_of", "club", "person"),
)
invitation = Table(
    "invitation", metadata, _key("digest"), _text("club"), _text("person", empty=True),
    _text("child", empty=True), Column("expires_at", BigInteger, nullable=False),
    Column("used", Boolean, nullable=False),
)

# Who may come in by the message API, and where each person was last heard.
gateway = Table(
    "gateway", metadata, _key("name"), _text("push_url", empty=True), _text("push_secret", empty=True),
)
gateway_key = Table(
    "gateway_key", metadata, _key("digest"), _text("id"), _text("gateway"), Column("ended", Boolean, nullable=False),
    Index("key_of_gateway", "gateway", "id"),
)
reach = Table(
    "reach", metadata, _key("club"), _key("person"), _text("channel"), _text("address"), _text("via"),
)

# The browsers on which people have come in.
phone = Table(
    "phone", metadata, _key("digest"), _text("id"), _text("club"), _text("person"),
    Column("since", BigInteger, nullable=False), Column("ended", Boolean, nullable=False),
    _text("endpoint", empty=True), _text("p256dh", empty=True), _text("auth", empty=True),
    Index("phone_of_person", "club", "person", "since"),
)

# Whose lessons a calendar program may take by a secret link.
feed = Table(
    "feed", metadata, _key("club"), _key("person"), _text("digest"), Index("feed_by_digest", "digest", unique=True),
)

# A class's book.
child = Table(
    "child", metadata, _key("club"), _key("child"), _text("class_id"),
    Column("place", Integer, nullable=False),       # the order within the class
    _text("name"), _text("award"), _text("left_on", empty=True),
    Index("child_of_class", "club", "class_id", "place"),
)
standing = Table("standing", metadata, _key("club"), _key("child"), _key("skill"), _text("body"))
award_way = Table(
    "award_way", metadata, _key("club"), _key("child"), _key("award"), _text("to"), _text("day"),
)
contact = Table("contact", metadata, _key("club"), _key("child"), _key("parent"), _text("body"))
agreed = Table("agreed", metadata, _key("club"), _key("child"), _text("body"))
pace = Table("pace", metadata, _key("club"), _key("class_id"), _key("skill"), _text("body"))
lesson = Table(
    "lesson", metadata, _key("club"), _key("class_id"), _key("lesson"), _text("body"),
)
class_group = Table("class_group", metadata, _key("club"), _key("class_id"), _key("name"), _text("children"))
reminder = Table(
    "reminder", metadata, _key("club"), _key("class_id"), _key("key"), _text("person"),
    Column("due_at", BigInteger),                   # null: it fired, and is not queued again under its key
    _text("body", empty=True),
    _where_given("reminder_due", "due_at"),
    sqlite_with_rowid=False,
)

# What was heard, said and recorded.
talk = Table(
    "talk", metadata, _key("club"), _key("person"), Column("version", Integer, nullable=False), _text("body"),
)
heard = Table(
    "heard", metadata, _key("message"), _text("club"), _text("person"), _text("fingerprint"), _text("seqs"),
    Column("received_at", BigInteger, nullable=False),
    sqlite_with_rowid=False,
)
said = Table(
    "said", metadata, _key("club"), _key("person"), Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("at", BigInteger, nullable=False), _text("text"), _text("choices"), _text("in_reply_to", empty=True),
    Column("cursor", BigInteger),                   # its place in the outbox, where it was unasked
    _text("attached", empty=True), _text("secret", empty=True),
    _where_given("said_cursor", "cursor", unique=True),
    _where_given("said_secret", "secret", unique=True),
)
letter = Table(                                     # the way of an unasked message through a gateway
    "letter", metadata, _key("id"), _text("club"), _text("person"), Column("seq", Integer, nullable=False),
    _text("via"), _text("channel"), _text("address"), Column("at", BigInteger, nullable=False),
    Column("cursor", BigInteger), Column("held_until", BigInteger), Column("tries", Integer, nullable=False),
    _where_given("letter_waits", "via", "cursor"),
    _where_given("letter_old", "at", "cursor"),
    _where_given("letter_held", "held_until"),
    Index("letter_of_person", "club", "person", "seq"),
)
fact = Table(
    "fact", metadata, _key("club"), Column("seq", BigInteger, primary_key=True, autoincrement=False),
    _text("message"), _text("by"), _text("kind"), _text("child", empty=True), _text("skill", empty=True),
    _text("lesson", empty=True), _text("class_id", empty=True), _text("target", empty=True), _text("body"),
    Index("fact_of_child", "club", "child", "skill"),
    Index("fact_of_message", "club", "message"),
    Index("fact_of_lesson", "club", "lesson"),
    _where_given("fact_voids", "club", "target"),
)
# Who was shown what of whom, once for each day. A child who is forgotten is named by none of it any more.
sight = Table(
    "sight", metadata, _key("club"), _key("day"), _key("person"), _key("what"), _key("class_id"), _key("child"),
    Column("at", BigInteger, nullable=False),
    sqlite_with_rowid=False,
)
counter = Table("counter", metadata, _key("name"), Column("value", BigInteger, nullable=False))

# What a fault of ours keeps from being handled: which message, where the fault is, and no word of what was said.
trouble = Table(
    "trouble", metadata, _key("club"), _key("id"), _text("what"), Column("tries", Integer, nullable=False),
    _text("kind"), _text("place"), Column("at", BigInteger, nullable=False),
)

# What only one of several programs does at a time, which one, and until when.
lease = Table("lease", metadata, _key("name"), _text("holder"), Column("until", BigInteger, nullable=False))

# Whose turn it is, where several processes write (PostgreSQL): a club's, or a stranger's (club empty, person the name).
turn = Table(
    "turn", metadata, _key("club"), _key("person"), Column("revision", BigInteger, nullable=False), _text("lately"),
)
