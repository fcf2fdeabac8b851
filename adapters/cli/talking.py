"""Commands that talk or play: `demo`, `chat`, `play`, `plan`, `click`."""
from __future__ import annotations

from pathlib import Path

import click

from adapters.cli.shared import (
    FILE,
    NEW_FILE,
    main,
    opened,
    store_opener,
    url_of,
    usage_of,
    with_clock,
    with_club,
    with_db,
)

AS_HELP = "Whose phone: a person's id or name, or a new one."


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
    start = usage_of(local_instant, clock or console.CLOCK, hall.club.tz)

    async def talk() -> None:
        async with opened("memory:") as store:
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

    url = url_of(context, db)

    async def talk() -> None:
        async with opened(url) as store:
            found = await the_club(store, club)
            me = await anybody(store, found.id, person)
            time = ShiftedClock(usage_of(local_instant, clock, found.tz)) if clock else SystemClock()
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
    fits = asyncio.run(play_all(scripts, Stores(where, store_opener()), quiet=quiet, accept=accept))
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
