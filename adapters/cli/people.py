"""Who may come in, and what programs: `invite`, `phones`, `calendar`, `key`, `webpush-key`."""
from __future__ import annotations

import sys
from pathlib import Path

import click

from adapters.cli.shared import NEW_FILE, main, with_club, with_db, with_store


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
    code, words = with_store(context, db, lambda store: invited(store, club, person, child))
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

    click.echo(with_store(context, db, lambda store: phones_of(store, club, person, end)))


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
    link, words = with_store(context, db, lambda store: calendar_of(store, club, person, page, end=end))
    click.echo(link)
    if words:
        click.echo(words, err=True)


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
        click.echo(with_store(context, db, lambda store: revoked(store, gateway, revoke)))
        return
    shown, words = with_store(context, db, lambda store: keyed(store, gateway, push))
    click.echo("\n".join(shown))
    click.echo(words, err=True)


@main.command("webpush-key")
@click.argument("file", metavar="FILE", type=NEW_FILE)
def webpush_key(file: Path) -> None:
    """Make a key in FILE by which push services know us; with it phones are told of a rest while their page is closed.

    It needs the extra sprung[webpush]. Say where it is in sprung.toml: webpush_key, and webpush_contact beside it.
    """
    from adapters.web.webpush import make_key

    make_key(file)
    click.echo(f"{file} is made. Keep it as long as phones are told by it: with another one each must ask anew.")
