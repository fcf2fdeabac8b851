"""The command line: the one place where real things are chosen.

What lives here: commands and their words. What a command does is next door; whatever is slow to import is
imported inside the command that needs it.
"""
from __future__ import annotations

import contextlib
import sys
from collections.abc import AsyncIterator, Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from adapters.errors import Sprung

if TYPE_CHECKING:
    from bot.port import Store

T = TypeVar("T")

FOLDER = click.Path(exists=True, file_okay=False, path_type=Path)
FILE = click.Path(exists=True, dir_okay=False, path_type=Path)
NEW_FILE = click.Path(dir_okay=False, path_type=Path)
DB_HELP = (
    "The database: sqlite:///path, a path, postgresql://…, or memory: (default: SPRUNG_DB, sprung.toml, your data "
    "folder)."
)


with_db = click.option("--db", metavar="URL", help=DB_HELP)
with_club = click.option("--club", metavar="ID", help="The club, where there is more than one.")
with_clock = click.option(
    "--clock", metavar="TIME", help='Begin at that time, as in "2026-11-24 16:58"; it then runs on.',
)
OUTPUT = "The file to be written."
AWARD_STEPS = {
    "order": "put on the order", "ordered": "ordered", "arrived": "they have come", "presented": "handed over",
    "undo": "undo",
}
"""Step of `sprung awards` → what it is in the talk."""
AS_HELP = "Whose phone: a person's id or name, or a new one."


@click.group(cls=Sprung, context_settings={"help_option_names": ["-h", "--help"]})
@click.option("--db", metavar="URL", help=DB_HELP)
@click.version_option(package_name="sprung", message="%(prog)s %(version)s")
@click.pass_context
def main(context: click.Context, db: str | None) -> None:
    """Sprung takes a whole class through an award scheme, by message.

    Try it: sprung demo
    """
    context.obj = db


@main.command()
@with_clock
def demo(clock: str | None) -> None:
    """The demo hall: you are the coach, the other phones show beside yours.

    Opens on a lesson about to begin. `wait 1m` lets a minute pass, Ctrl-D leaves. Nothing is kept.
    """
    from adapters.clock import ShiftedClock, local_instant
    from adapters.console import demo as console
    from adapters.halls import DEMO_HALL, read_folder
    from adapters.planners import planned
    from adapters.settings import planners

    hall = read_folder(DEMO_HALL)
    start = _usage(local_instant, clock or console.CLOCK, hall.club.tz)

    async def talk() -> None:
        async with _opened("memory:") as store:
            with planned(store, ShiftedClock(start), planners()) as service:
                await console.demo(service, hall)

    console.at_the_console(talk(), console.DEMO_GOODBYE)


@main.command()
@click.option("--as", "person", metavar="PERSON", required=True, help=AS_HELP)
@with_club
@with_clock
@with_db
@click.pass_context
def chat(context: click.Context, person: str, club: str | None, clock: str | None, db: str | None) -> None:
    """Talk as one person of a club, on the club's own database.

    A name that nobody bears is a new phone: somebody with a code says join CODE on it.
    """
    from adapters.clock import ShiftedClock, SystemClock, local_instant
    from adapters.console import demo as console
    from adapters.planners import planned
    from adapters.records import anybody, the_club
    from adapters.settings import planners

    url = _url(context, db)

    async def talk() -> None:
        async with _opened(url) as store:
            found = await the_club(store, club)
            me = await anybody(store, found.id, person)
            time = ShiftedClock(_usage(local_instant, clock, found.tz)) if clock else SystemClock()
            with planned(store, time, planners()) as service:
                await console.chat(service, found, me, person.strip())

    console.at_the_console(talk())


@main.command()
@click.argument("scripts", metavar="FILE...", nargs=-1, required=True, type=FILE)
@click.option("--store", type=click.Choice(["memory", "sqlite"]), default="memory", help="Each script's fresh store.")
@click.option("--accept", is_flag=True, help="Write what came into the scripts where it does not fit.")
@click.option("--quiet", "-q", is_flag=True, help="Only what does not fit.")
@with_db
@click.pass_context
def play(
    context: click.Context, scripts: tuple[Path, ...], store: str, accept: bool, quiet: bool, db: str | None,
) -> None:
    """Play conversation scripts and compare what comes back.

    Each plays on a fresh store, or all on the real one that --db names. Exit code 1: something did not fit.
    """
    import asyncio

    from adapters.play.run import Stores, play_all

    # Only what is said on this line: a script must never play on the club's database by a setting.
    where = db or context.obj or ("memory:" if store == "memory" else "sqlite:")
    fits = asyncio.run(play_all(scripts, Stores(where, _open_store()), quiet=quiet, accept=accept))
    context.exit(0 if fits else 1)


@main.command()
@click.argument("file", metavar="FILE", type=FILE)
@click.option("--milliseconds", metavar="N", type=click.FloatRange(1), default=30, show_default=True, help="How long.")
@click.option("--trials", metavar="N", type=click.IntRange(0), help="How many trials instead: the same plan each time.")
@click.option("--seed", metavar="N", type=int, default=0, show_default=True, help="Another number, another search.")
@click.option("--bound", is_flag=True, help="Say also what no plan can exceed.")
@click.option("-o", "output", metavar="PLAN", type=NEW_FILE, help="Write the plan to this file.")
@click.option("--svg", metavar="PICTURE", type=NEW_FILE, help="Draw it, a strip for each watcher and child.")
def plan(
    file: Path, milliseconds: float, trials: int | None, seed: int, bound: bool, output: Path | None, svg: Path | None,
) -> None:
    """Plan whom to watch next, from a planning file (class-plan/1), and print the plan.

    The most ticks, by their weight and chance, inside the minutes that are left; then the earliest finish.
    """
    from adapters.planning import planned

    made = planned(file, milliseconds, trials, seed, bound)
    if output is None:
        click.echo(made.file, nl=False)
    else:
        output.write_text(made.file, encoding="utf-8")
    if svg is not None:
        from adapters.plan_picture import picture

        svg.write_text(picture(made.problem, made.plan), encoding="utf-8")
    click.echo(made.words, err=True)


@main.command("click")
@click.argument("file", metavar="FILE", type=NEW_FILE)
@click.option("--bpm", metavar="N", type=int, required=True, help="The tempo, in beats a minute.")
@click.option("--eights", metavar="N", type=int, default=8, show_default=True, help="Counts of eight.")
@click.option("--times", metavar="N", type=int, default=1, show_default=True, help="Times through.")
@click.option("--count-in", metavar="N", type=click.IntRange(0, 100), default=1, show_default=True, help="… before it.")
def click_track(file: Path, bpm: int, eights: int, times: int, count_in: int) -> None:
    """Write a click track (WAV): so many counts of eight at a tempo, after a count-in."""
    from adapters.errors import Trouble
    from adapters.files.click import track
    from bot.attached import Click
    from bot.talk.music import fault_of, told

    recipe = Click(bpm, eights, times, count_in)
    if fault := fault_of(recipe):
        raise Trouble(fault)
    file.write_bytes(track(recipe))
    click.echo(f"{file}: {told(recipe)}.")


@main.command()
@click.argument("file", metavar="FILE", type=FILE)
def scheme(file: Path) -> None:
    """Check a scheme file and print its standard cards."""
    from adapters.records import cards

    click.echo(cards(file))


@main.command()
@click.argument("folder", metavar="FOLDER", type=FOLDER)
@with_db
@click.pass_context
def hall(context: click.Context, folder: Path, db: str | None) -> None:
    """Load a hall, or load it anew, and say what changed.

    A hall is a folder with scheme.toml, club.toml and roster.csv.
    """
    from adapters.clock import SystemClock
    from adapters.halls import read_folder

    read = read_folder(folder)
    loaded = _with_store(context, db, lambda store: store.load(read, SystemClock().now()))
    click.echo("\n".join(loaded.changes) or f"{read.club.name}: nothing has changed.")


@main.command()
@click.argument("file", metavar="FILE", type=FILE)
@click.option("--column", "columns", metavar="WHAT=HEADER", multiple=True, help="What a column is: name=Pupil.")
@click.option("--class", "class_", metavar="CLASS", help="The class of all for whom the file says none.")
@click.option("--award", metavar="AWARD", help="What new children work on, where the file doesn't say.")
@click.option("--same", metavar="NAME[=OURS]", multiple=True, help="This name is the child of ours that is like it.")
@click.option("--new", metavar="NAME", multiple=True, help="This name is another child than the one it is like.")
@click.option("--gone", metavar="NAME", multiple=True, help="Forget this child, who is missing from the file; or all.")
@click.option("--encoding", metavar="NAME", help="The file's letters, where the guess is wrong: windows-1250.")
@click.option("--sheet", metavar="NAME", help="Which sheet of a workbook; else the first.")
@click.option("--hall", "folder", metavar="FOLDER", type=FOLDER, help="Write this hall's roster.csv anew as well.")
@click.option("--yes", is_flag=True, help="Do it. Without that it is only shown.")
@with_club
@with_db
@click.pass_context
def roster(context: click.Context, /, club: str | None, db: str | None, **said: Any) -> None:
    """Take the children from a list (CSV or XLSX) with any columns. Shows what it would do; --yes does it.

    Marks and ticks stay, another class is a move, and a name that is not quite one of ours is asked about. Exit code 1:
    something has to be answered first.
    """
    from adapters.clock import SystemClock
    from adapters.rosters import Given, enrolled

    given = Given(**said)
    words, fine = _with_store(context, db, lambda store: enrolled(store, club, given, SystemClock().now()))
    click.echo(words)
    context.exit(0 if fine else 1)


@main.command()
@click.argument("file", metavar="FILE", type=FILE)
@click.option("--class", "said", metavar="TITLE=CLASS", multiple=True, help="Which class an event of that title is.")
@click.option("--not", "left_out", metavar="TITLE", multiple=True, help="Leave events of that title out.")
@click.option("--yes", is_flag=True, help="Do it. Without that it is only shown.")
@with_club
@with_db
@click.pass_context
def times(
    context: click.Context, file: Path, said: tuple[str, ...], left_out: tuple[str, ...], yes: bool, club: str | None,
    db: str | None,
) -> None:
    """Take classes' times and closed days from a calendar (.ics). Shows what it would do; --yes does it.

    It needs the extra sprung[calendar].
    """
    from adapters.calendars import timed
    from adapters.clock import SystemClock

    now = SystemClock().now()
    click.echo(_with_store(context, db, lambda store: timed(store, club, file, said, left_out, now, yes=yes)))


@main.command()
@click.option("--json", "as_json", is_flag=True, help="Print all as JSON.")
@click.option("--csv", "table", type=click.Choice(["children", "marks", "awards"]), help="Print one table as CSV.")
@click.option("--xlsx", metavar="FILE", type=NEW_FILE, help="Write the three tables as a workbook.")
@click.option("--all", "everything", metavar="FILE", type=NEW_FILE, help="Write the whole club, for sprung import.")
@click.option("--child", metavar="NAME", help="Only what is kept of one child; by itself in words, for a family.")
@with_club
@with_db
@click.pass_context
def export(
    context: click.Context, as_json: bool, table: str | None, xlsx: Path | None, everything: Path | None,
    child: str | None, club: str | None, db: str | None,
) -> None:
    """Give out all that is kept of a club, or of one child: to read, for a spreadsheet, or to be taken in elsewhere."""
    from adapters import exports
    from adapters.records import accounted, answer_due, exported

    formats = [as_json, table is not None, xlsx is not None, everything is not None].count(True)
    if formats > 1 or (formats == 0 and child is None):
        raise click.UsageError("say one of --json, --csv TABLE, --xlsx FILE and --all FILE; or --child NAME, in words")
    if everything is not None:
        if child is not None:
            raise click.UsageError("--all is of the whole club; --json --child is what is kept of one child")
        words = _with_store(context, db, lambda store: exports.written_whole(store, club, everything))
        click.echo(words, err=True)
        return
    if xlsx is not None:
        click.echo(_with_store(context, db, lambda store: exports.workbook_of(store, club, child, xlsx)), err=True)
    elif table is not None:
        click.echo(_with_store(context, db, lambda store: exports.csv_of(store, club, child, table)), nl=False)
    elif as_json:
        click.echo(_with_store(context, db, lambda store: exported(store, club, child)))
    else:
        click.echo(_with_store(context, db, lambda store: accounted(store, club, child or "")))
    if child is not None:
        click.echo(answer_due(), err=True)


@main.command("import")
@click.argument("file", metavar="FILE", type=FILE)
@with_db
@click.pass_context
def import_(context: click.Context, file: Path, db: str | None) -> None:
    """Take in a whole club from a file that sprung export --all wrote. A club that is here already is left alone."""
    from adapters.exports import taken_in

    click.echo(_with_store(context, db, lambda store: taken_in(store, file)))


@main.command()
@click.option("--child", metavar="NAME", help="Only what is about one child.")
@click.option("--person", metavar="ID", help="Only what one person saw or did.")
@click.option("--since", metavar="DATE", help="From that day on, as in 2026-11-24.")
@with_club
@with_db
@click.pass_context
def audit(
    context: click.Context, child: str | None, person: str | None, since: str | None, club: str | None, db: str | None,
) -> None:
    """Print who saw and changed what, newest last. That somebody looked is kept too.

    What was seen is kept for audit_months of club.toml, changes as long as the child.
    """
    from adapters.records import audited

    click.echo(_with_store(context, db, lambda store: audited(store, club, child, person, since)))


@main.command()
@click.argument("person", metavar="[PERSON]", required=False)
@click.option("--parent", "child", metavar="CHILD", help="For a parent of this child.")
@with_club
@with_db
@click.pass_context
def invite(context: click.Context, person: str | None, child: str | None, club: str | None, db: str | None) -> None:
    """Print a one-time code for somebody, who sends it as: join CODE

    Hand it over in person. It is good for 14 days.
    """
    from adapters.records import invited
    from adapters.settings import address
    from adapters.web.qr import link

    if (person is None) == (child is None):
        raise click.UsageError('say either PERSON or --parent "CHILD"')
    page = address()
    code, words = _with_store(context, db, lambda store: invited(store, club, person, child))
    click.echo(code)
    click.echo(words, err=True)
    if page is not None:
        _show_link(link(page, code))


def _show_link(to: str) -> None:
    from adapters.web.qr import qr

    click.echo(f"On a phone with a browser: {to}", err=True)
    if sys.stderr.isatty():
        click.echo(qr(to), err=True)


@main.command()
@click.argument("person", metavar="PERSON")
@click.option("--end", metavar="PHONE", help="Sign out this phone, or all.")
@with_club
@with_db
@click.pass_context
def phones(context: click.Context, person: str, end: str | None, club: str | None, db: str | None) -> None:
    """Show on which phones somebody has come in to the page, or sign out a lost one.

    What waits on a phone that is signed out stays there and is sent by nobody.
    """
    from adapters.records import phones_of

    click.echo(_with_store(context, db, lambda store: phones_of(store, club, person, end)))


@main.command()
@click.argument("person", metavar="PERSON")
@click.option("--end", is_flag=True, help="End the link instead.")
@with_club
@with_db
@click.pass_context
def calendar(context: click.Context, person: str, end: bool, club: str | None, db: str | None) -> None:
    """Print a secret link by which a calendar program shows somebody's lessons, with how many retests are due.

    It is served by sprung serve. There is one for each person; a new one ends the one before.
    """
    from adapters.records import calendar_of
    from adapters.settings import address

    page = address()
    link, words = _with_store(context, db, lambda store: calendar_of(store, club, person, page, end=end))
    click.echo(link)
    if words:
        click.echo(words, err=True)


@main.command()
@click.option("--port", metavar="N", type=click.IntRange(0, 65535), default=8080, show_default=True, help="0: any.")
@click.option("--host", metavar="HOST", default="127.0.0.1", show_default=True, help="The address to listen on.")
@click.option("--log", type=click.Choice(["text", "json"]), help="Write a line for each event too, with no names.")
@with_clock
@with_db
@click.pass_context
def serve(
    context: click.Context, port: int, host: str, log: str | None, clock: str | None, db: str | None,
) -> None:
    """Serve the page for phones, and the message API, by which gateways bring messages in and take them out.

    Ctrl-C (or SIGTERM) ends it once what is under way is answered.
    """
    import asyncio

    from adapters.clock import ShiftedClock, SystemClock
    from adapters.http.serve import serve as serving
    from adapters.planners import planned
    from adapters.records import local_clock
    from adapters.settings import address, planners, webpush
    from adapters.settings import log as logging
    from adapters.web.webpush import read_key

    url, page = _url(context, db), address()
    draw = sys.stdout.isatty()
    events = logging(log)
    set_up = webpush()
    key = None if set_up is None else read_key(*set_up)

    async def run() -> None:
        async with _opened(url) as store:
            time = ShiftedClock(await local_clock(store, clock)) if clock else SystemClock()
            with planned(store, time, planners()) as service:
                await serving(service, host, port, click.echo, page, draw=draw, key=key, log=events)

    asyncio.run(run())


@main.command("webpush-key")
@click.argument("file", metavar="FILE", type=NEW_FILE)
def webpush_key(file: Path) -> None:
    """Make a key in FILE by which push services know us; with it phones are told of a rest while their page is closed.

    It needs the extra sprung[webpush]. Say where it is in sprung.toml: webpush_key, and webpush_contact beside it.
    """
    from adapters.web.webpush import make_key

    make_key(file)
    click.echo(f"{file} is made. Keep it as long as phones are told by it: with another one each must ask anew.")


@main.command()
@click.argument("gateway", metavar="GATEWAY")
@click.option("--push", metavar="URL", help="Send unasked messages to this URL, signed; off: no longer.")
@click.option("--revoke", metavar="KEY", help="End this key, or all; no new one is made.")
@with_db
@click.pass_context
def key(context: click.Context, gateway: str, push: str | None, revoke: str | None, db: str | None) -> None:
    """Print a new key for a gateway of the message API, once.

    The keys that it had before go on working until they are revoked.
    """
    from adapters.records import keyed, revoked

    if revoke is not None:
        if push is not None:
            raise click.UsageError("say either --push or --revoke")
        click.echo(_with_store(context, db, lambda store: revoked(store, gateway, revoke)))
        return
    shown, words = _with_store(context, db, lambda store: keyed(store, gateway, push))
    click.echo("\n".join(shown))
    click.echo(words, err=True)


@main.command()
@click.argument("step", metavar="[STEP]", required=False, type=click.Choice(list(AWARD_STEPS)))
@click.option("--as", "person", metavar="PERSON", help="Who takes the step: it is done for this coach's classes.")
@click.option("--cupboard", metavar="COUNT", help='What is in the cupboard, as in "lantern 5, candle 3".')
@with_club
@with_db
@click.pass_context
def awards(
    context: click.Context, step: str | None, person: str | None, cupboard: str | None, club: str | None,
    db: str | None,
) -> None:
    """Show which awards wait for what, or take them a step on: order, ordered, arrived, presented; undo takes it back.

    Each is what a coach would type in the talk, and is kept as said by that coach.
    """
    from adapters.awards import typed, waiting
    from adapters.clock import SystemClock

    if step is not None and cupboard is not None:
        raise click.UsageError("say either a STEP or --cupboard")
    text = f"cupboard {cupboard}" if cupboard is not None else AWARD_STEPS[step] if step is not None else None
    if text is None:
        click.echo(_with_store(context, db, lambda store: waiting(store, club)))
    elif person is None:
        raise click.UsageError("say --as PERSON: whose classes it is about")
    else:
        click.echo(_with_store(context, db, lambda store: typed(store, club, person, text, SystemClock())))


@main.command()
@click.option("--csv", "csv_file", metavar="FILE", type=NEW_FILE, help="Write it as comma-separated values.")
@click.option("--pdf", "pdf_file", metavar="FILE", type=NEW_FILE, help="Write it for print.")
@click.option("--list", "presentation", is_flag=True, help="The presentation list: what is here, by class, by name.")
@with_club
@with_db
@click.pass_context
def order(
    context: click.Context, csv_file: Path | None, pdf_file: Path | None, presentation: bool, club: str | None,
    db: str | None,
) -> None:
    """Print the order sheet: what is on the order by award and class, less what is in the cupboard.

    With --list it is the presentation list. For PDF it needs the extra sprung[print].
    """
    from adapters.awards import sheet

    click.echo(_with_store(context, db, lambda store: sheet(store, club, presentation, csv_file, pdf_file)), nl=False)


@main.command()
@click.argument("class_id", metavar="[CLASS]", required=False)
@click.option("--child", metavar="NAME", help="Only this child's, also one that was handed over: to print it again.")
@click.option("-o", "output", metavar="FILE", type=NEW_FILE, default="certificates.pdf", show_default=True, help=OUTPUT)
@with_club
@with_db
@click.pass_context
def certificates(
    context: click.Context, class_id: str | None, child: str | None, output: Path, club: str | None, db: str | None,
) -> None:
    """Write the certificates of a class for print, one page for each award that is not handed over yet.

    It needs the extra sprung[print]. What they look like is in club.toml, under [printing].
    """
    from adapters.awards import certified

    click.echo(_with_store(context, db, lambda store: certified(store, club, class_id, child, output)))


@main.command()
@click.argument("class_id", metavar="CLASS")
@click.option("--day", metavar="DATE", help="The lesson of that day, as in 2026-11-24; else the next one.")
@click.option("-o", "output", metavar="FILE", type=NEW_FILE, default="class.pdf", show_default=True, help=OUTPUT)
@click.option("--all", "everything", is_flag=True, help="Also what is owed and does not fit into the lesson.")
@with_club
@with_db
@click.pass_context
def paper(
    context: click.Context, class_id: str, day: str | None, output: Path, everything: bool, club: str | None,
    db: str | None,
) -> None:
    """Write the sheet of a class for print: what to watch, child by child, with boxes to tick.

    What was ticked is typed in afterwards as one message; the sheet says how. It needs the extra sprung[print].
    """
    from adapters.awards import on_paper
    from adapters.clock import SystemClock

    told = _with_store(
        context, db, lambda store: on_paper(store, club, class_id, day, output, SystemClock(), everything=everything),
    )
    click.echo(told)


@main.command()
@click.argument("child", metavar="CHILD")
@click.option("--yes", is_flag=True, help="Do not ask first.")
@with_club
@with_db
@click.pass_context
def forget(context: click.Context, child: str, yes: bool, club: str | None, db: str | None) -> None:
    """Remove a child and all that is kept of her, for good."""
    from adapters.records import the_child, the_club

    async def work(store: Store) -> str:
        found = await the_club(store, club)
        known = await the_child(store, found.id, child)
        if not yes:
            click.confirm(f"Remove {known.name} and all that is kept of this child, for good?", abort=True, err=True)
        await store.forget(found.id, known.id)
        return known.name

    click.echo(f"{_with_store(context, db, work)} is forgotten.")


@main.command()
@click.argument("folder", metavar="[FOLDER]", required=False, type=FOLDER)
@with_db
@click.pass_context
def check(context: click.Context, folder: Path | None, db: str | None) -> None:
    """Look whether all is well here, also while serve runs, and change nothing. With a hall's FOLDER: is it loaded?

    A line for each question: ok, or what is wrong and what would do. Exit code 1: something is wrong.
    """
    from adapters.check.gather import gathered
    from adapters.check.judge import judged
    from adapters.clock import SystemClock
    from storage.look import look

    found = judged(gathered(look, _url(context, db), SystemClock().now(), folder))
    for one in found:
        click.echo(one.line)
    wrong = sum(one.wrong for one in found)
    click.echo("All is well." if not wrong else f"{wrong} {'thing is' if wrong == 1 else 'things are'} wrong.")
    context.exit(1 if wrong else 0)


@main.command()
@click.argument("file", metavar="FILE", type=NEW_FILE)
@with_db
@click.pass_context
def backup(context: click.Context, file: Path, db: str | None) -> None:
    """Copy the database to a new file, also while it is in use."""
    from adapters.records import copied

    click.echo(_with_store(context, db, lambda store: copied(store, file)))


# --- real things -----------------------------------------------------------------------------------

def _url(context: click.Context, db: str | None) -> str:
    from adapters.settings import database

    return database(db or context.obj)


@contextlib.asynccontextmanager
async def _opened(url: str) -> AsyncIterator[Store]:
    store = _open_store()(url)
    try:
        yield store
    finally:
        await store.close()


def _with_store(context: click.Context, db: str | None, work: Callable[[Store], Any]) -> Any:
    """Do something with the database's store and let it go again."""
    import asyncio

    url = _url(context, db)

    async def run() -> Any:
        async with _opened(url) as store:
            return await work(store)

    return asyncio.run(run())


def _open_store() -> Callable[[str], Store]:
    from storage import open_store

    return open_store


def _usage(read: Callable[..., T], *given: Any) -> T:
    """What was typed on the command line, read; a wrong word there is wrong usage."""
    try:
        return read(*given)
    except ValueError as wrong:
        raise click.UsageError(str(wrong)) from None
