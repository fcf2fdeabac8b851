"""What the facts of a check amount to: pure, one function a question.

What lives here: the limits, and the sentences. Whatever is wrong comes with what would do.
"""
from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime, timedelta

from adapters.check.facts import Facts, Finding, Hall
from bot.health import Kept, Looked

MB = 1_000_000
LEAST_ROOM = 100 * MB               # and as much again as the database takes, for a copy of it
LATE = timedelta(minutes=1)         # a reminder that waits for longer is nobody's to fire
SLOW = timedelta(minutes=15)        # a letter that failed is tried again by then
BEHIND = timedelta(minutes=1)       # clocks of two machines may differ a little
OLD_COPY = timedelta(days=30)
EXTRAS = {
    "webpush": "phones whose page is closed are not told of a rest",
    "postgres": "everything is kept in a file, not on a server",
}
"""What it means that an extra is not installed."""


def judged(facts: Facts) -> tuple[Finding, ...]:
    """Every finding, in the order in which one would look."""
    looked = facts.database
    found = [database(looked)]
    if looked.fault is None and looked.kind != "memory":
        found += [tables(looked), whole(looked), *room(facts)]
    found += rights(facts)
    kept = looked.kept
    if kept is not None:
        found += [clock(kept, facts.now), *zones(facts), reminders(kept, facts.now), *outbox(kept, facts.now),
                  *gateways(kept), *closed_pages(kept, facts), *copies(looked, kept, facts.now)]
    found += [settings(facts), *extras(facts), *registered(facts)]
    if facts.hall is not None:
        found.append(files(facts.hall))
    return tuple(found)


# --- the database ---------------------------------------------------------------------------------------

def database(looked: Looked) -> Finding:
    """Is it there?"""
    if looked.fault is not None:
        says, _, remedy = looked.fault.partition("; ")
        return Finding("database", f"{looked.where}: {says}", _sentence(remedy or "Try again in a moment"))
    if looked.kind == "memory":
        return Finding("database", "in memory, where nothing is kept")
    kind = {"sqlite": "SQLite", "postgresql": "PostgreSQL"}[looked.kind]
    return Finding("database", f"{looked.where}, {_size(looked.size)}, {kind} {looked.version}")


def tables(looked: Looked) -> Finding:
    """Has it the shape that this program knows?"""
    at, ours = looked.revision, looked.known[-1]
    if at == ours:
        return Finding("schema", f"{ours}, the one this program knows")
    if at is None:
        return Finding("schema", "there is nothing of ours in it", "Load a hall: sprung hall FOLDER")
    if at in looked.known:
        return Finding(
            "schema", f"it is at {at}, this program at {ours}",
            "Make a copy; then any other command, or sprung serve, brings it up to date",
        )
    return Finding("schema", f"it is at {at}, which a newer program wrote", "Update this program")


def whole(looked: Looked) -> Finding:
    """Does the database itself find anything damaged?"""
    if looked.damage is not None:
        return Finding(
            "integrity", f"SQLite finds damage in the file ({looked.damage})",
            "Stop sprung serve, keep this file, and put your last copy in its place",
        )
    if looked.kind == "postgresql":
        return Finding("integrity", "it answers; PostgreSQL watches over its own files")
    return Finding("integrity", "SQLite finds no damage")


def room(facts: Facts) -> Iterator[Finding]:
    """Is there room on the disk for the database, its log and a copy?"""
    if facts.free is None:
        return
    least = max(LEAST_ROOM, facts.database.size)
    if facts.free < least:
        yield Finding(
            "room", f"{_size(facts.free)} are free on the disk of the database; it wants {_size(least)}",
            "Make room there; what can't be written is refused, and nothing that was answered is lost",
        )
    else:
        yield Finding("room", f"{_size(facts.free)} are free on its disk")


def rights(facts: Facts) -> Iterator[Finding]:
    """Can nobody but the owner read what is the owner's?"""
    given = [one for one in facts.files if one.mode is not None]
    for one in given:
        if one.mode is not None and one.mode & 0o077:
            yield Finding("rights", f"others on this computer can open {one.path}", f"Type: chmod 600 '{one.path}'")
    if given and not any(one.mode is not None and one.mode & 0o077 for one in given):
        yield Finding("rights", "nobody but its owner can open the database" + ("" if len(given) == 1 else
                      " and what belongs to it"))


def copies(looked: Looked, kept: Kept, now: datetime) -> Iterator[Finding]:
    """When was the last copy made?"""
    if looked.kind != "sqlite":
        yield Finding("copies", "a server's database is copied with its own tools, such as pg_dump")
    elif kept.copied_at is None:
        yield Finding("copies", "none was made by sprung backup; see that there is another one")
    elif now - kept.copied_at > OLD_COPY:
        yield Finding("copies", f"the last was made {_ago(now - kept.copied_at)} ago", "Make one: sprung backup FILE")
    else:
        yield Finding("copies", f"the last was made {_ago(now - kept.copied_at)} ago")


# --- time -----------------------------------------------------------------------------------------------

def clock(kept: Kept, now: datetime) -> Finding:
    """Is this machine's clock behind what it wrote itself?"""
    if kept.newest is not None and kept.newest - now > BEHIND:
        return Finding(
            "clock", f"it is {_ago(kept.newest - now)} behind the newest message here",
            "Set it by the network's time (a serve with --clock, for a trial, does that too)",
        )
    return Finding("clock", f"{now:%Y-%m-%d %H:%M} UTC" + (
        "" if kept.newest is None else f", the newest message came {_ago(now - kept.newest)} ago"))


def zones(facts: Facts) -> Iterator[Finding]:
    """Is the time zone of each club known here?"""
    for club, zone in facts.unknown_zones.items():
        yield Finding("time zone", f"{zone}, of the club {club}, is not known here", "Type: pip install -U tzdata")
    kept = facts.database.kept
    if kept is not None and kept.zones and not facts.unknown_zones:
        yield Finding("time zone", ", ".join(sorted({one.timezone for one in kept.zones})))


def reminders(kept: Kept, now: datetime) -> Finding:
    """Does anything wait that is due?"""
    since = kept.waits.due_since
    if since is None or now - since < LATE:
        return Finding("reminders", "nothing is late")
    return Finding(
        "reminders", f"{_several(kept.waits.due, 'is due and was', 'are due and were')} not sent, the first since "
        f"{_ago(now - since)}", "See that sprung serve runs; it sends them, and drops what is no help any more",
    )


# --- the way out ----------------------------------------------------------------------------------------

def outbox(kept: Kept, now: datetime) -> Iterator[Finding]:
    """How long do unasked messages wait at each gateway?"""
    working = {one.gateway for one in kept.keys if one.working}
    for gateway, queue in sorted(kept.waits.letters.items()):
        says = f"{_several(queue.letters, 'message waits', 'messages wait')} at {gateway}, the oldest for " \
               f"{_ago(now - queue.oldest)}"
        if gateway not in working:
            yield Finding("outbox", f"{says}, and it has no key that works", f"Make one: sprung key {gateway}")
        elif now - queue.oldest > SLOW:
            yield Finding("outbox", says, "See that this gateway runs; after a day they are dropped")
        else:
            yield Finding("outbox", says)
    if not kept.waits.letters:
        yield Finding("outbox", "nothing waits")


def gateways(kept: Kept) -> Iterator[Finding]:
    """Who can bring messages in?"""
    working = [f"{one.gateway}{' (pushed to)' if one.pushed else ''}" for one in kept.keys if one.working]
    ended = [one.gateway for one in kept.keys if not one.working]
    if not kept.keys:
        yield Finding("gateways", "none; people use the page")
        return
    last = f"; every key of {', '.join(ended)} was ended" if ended else ""
    yield Finding("gateways", f"{', '.join(working) or 'none has a key that works'}{last}")


def closed_pages(kept: Kept, facts: Facts) -> Iterator[Finding]:
    """Is anybody told while their page is closed, who asked for it?"""
    if facts.webpush is not None:
        says, _, remedy = facts.webpush.partition("; ")
        yield Finding("closed pages", says, _sentence(remedy or "See to webpush_key and webpush_contact"))
    elif facts.webpush_set_up:
        yield Finding("closed pages", f"{_several(kept.subscribed, 'phone is', 'phones are')} told")
    elif kept.subscribed:
        yield Finding(
            "closed pages", f"{_several(kept.subscribed, 'phone', 'phones')} asked to be told, and no key is set up",
            "Say where it is: webpush_key and webpush_contact in sprung.toml",
        )


# --- the program ----------------------------------------------------------------------------------------

def settings(facts: Facts) -> Finding:
    """Can the settings be used?"""
    if facts.settings is not None:
        return Finding("settings", facts.settings, "Put that right")
    plans = {0: "each lesson goes by the simple rule (planners = 0)", 1: "1 process plans the lessons"}
    return Finding("settings", plans.get(facts.planners, f"{facts.planners} processes plan the lessons"))


def extras(facts: Facts) -> Iterator[Finding]:
    """What is not installed, and what that means."""
    absent = [one for one, there in facts.extras.items() if not there]
    for one in absent:
        yield Finding("extras", f"{one} is not installed: {EXTRAS[one]}")
    if not absent:
        yield Finding("extras", f"{' and '.join(facts.extras) or 'none'} installed")


def registered(facts: Facts) -> Iterator[Finding]:
    """Does each adapter that is installed load?"""
    for name, fault in facts.adapters.items():
        if fault is not None:
            yield Finding("adapters", f"{name} does not load ({fault})", "Install it anew, or take it away")
    if not facts.adapters:
        yield Finding("adapters", "none is registered", "Install the program anew: pip install sprung")
    elif not any(facts.adapters.values()):
        yield Finding("adapters", ", ".join(facts.adapters))


def files(hall: Hall) -> Finding:
    """Is what the hall's files say what is kept?"""
    if hall.fault is not None:
        return Finding("hall", hall.fault, "Put that right, and look again")
    again = f"Load it: sprung hall '{hall.folder}'"
    if not hall.known:
        return Finding("hall", f"{hall.folder} is no club of this database", again)
    differs = [*_different(hall)]
    if differs:
        return Finding("hall", f"{hall.folder} differs: {', '.join(differs)}", again)
    gone = f"; {_several(hall.gone, 'child is', 'children are')} kept who " \
           f"{'is' if hall.gone == 1 else 'are'} not on the roster" if hall.gone else ""
    return Finding("hall", f"{hall.folder} is loaded as it stands{gone}")


def _different(hall: Hall) -> Iterable[str]:
    if hall.children:
        yield f"{_several(hall.children, 'child is', 'children are')} new or changed on the roster"
    if hall.others:
        yield "so do its scheme, people or times"


# --- words ----------------------------------------------------------------------------------------------

def _several(count: int, one: str, more: str) -> str:
    return f"{count} {one if count == 1 else more}"


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}".rstrip(".")


def _size(size: int) -> str:
    for least, unit in ((1_000 * MB, "GB"), (MB, "MB")):
        if size >= least:
            return f"{size / least:.1f} {unit}"
    return f"{size // 1000} KB"


def _ago(span: timedelta) -> str:
    """A span of time in words, by its largest unit."""
    seconds = max(0, int(span.total_seconds()))
    for length, one, more in ((86_400, "day", "days"), (3600, "hour", "hours"), (60, "minute", "minutes")):
        if seconds >= length:
            return _several(seconds // length, one, more)
    return _several(seconds, "second", "seconds")
