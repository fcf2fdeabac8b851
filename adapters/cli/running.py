"""For whoever keeps it running: `serve`, `check`."""
from __future__ import annotations

import sys
from pathlib import Path

import click

from adapters.cli.shared import FOLDER, main, opened, url_of, with_clock, with_db


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
    from adapters.settings import address, planners, remember, webpush
    from adapters.settings import log as logging
    from adapters.web.webpush import read_key

    url, page = url_of(context, db), address()
    draw = sys.stdout.isatty()
    events, remembered = logging(log), remember()
    set_up = webpush()
    key = None if set_up is None else read_key(*set_up)

    async def run() -> None:
        async with opened(url, remembered) as store:
            time = ShiftedClock(await local_clock(store, clock)) if clock else SystemClock()
            with planned(store, time, planners()) as service:
                await serving(service, host, port, click.echo, page, draw=draw, key=key, log=events)

    asyncio.run(run())


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

    found = judged(gathered(look, url_of(context, db), SystemClock().now(), folder))
    for one in found:
        click.echo(one.line)
    wrong = sum(one.wrong for one in found)
    click.echo("All is well." if not wrong else f"{wrong} {'thing is' if wrong == 1 else 'things are'} wrong.")
    context.exit(1 if wrong else 0)
