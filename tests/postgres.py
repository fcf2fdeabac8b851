"""A throwaway PostgreSQL server for tests, and empty databases of ours on it. Nothing here is a test.

One server for each process that tests, started when the first test asks for it and ended with the process, however that
ends. It listens on a socket in its own folder and nowhere else. Its disk is not synced unless a test asks for that:
what is tested with it is what we make of a server, not the server.
"""
from __future__ import annotations

import atexit
import ctypes
import importlib.util
import itertools
import os
import pwd
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager, contextmanager
from functools import cache
from pathlib import Path
from typing import Any, NoReturn

import pytest

from adapters.play.run import Stores
from storage import open_store

USER = "sprung"
LAX = ("fsync=off", "full_page_writes=off")
PR_SET_PDEATHSIG = 1


def programs() -> Path | None:
    """Where the server's programs are, the newest if there are several."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda path: int(path.parent.name))
    on_path = shutil.which("initdb")
    return found[-1] if found else Path(on_path).parent if on_path else None


def free_port() -> int:
    """A port on which nobody listens just now."""
    with socket.create_server(("127.0.0.1", 0)) as listening:
        port: int = listening.getsockname()[1]
        return port


class Server:
    """A server of its own, in a folder of its own."""

    def __init__(self, *settings: str, standby_of: Server | None = None) -> None:
        bin_ = programs()
        assert bin_ is not None
        self._bin = bin_
        self.folder = Path(tempfile.mkdtemp(prefix="sprung-pg-"))
        env = {"PATH": os.environ["PATH"], "HOME": str(self.folder)}
        self.as_user: dict[str, Any] = {"cwd": self.folder, "env": env}
        if os.geteuid() == 0:       # which it refuses to run as
            who = pwd.getpwnam("postgres")
            os.chown(self.folder, who.pw_uid, who.pw_gid)
            self.folder.chmod(0o755)
            self.as_user |= {"user": who.pw_uid, "group": who.pw_gid, "extra_groups": []}
        self._settings = [f"unix_socket_directories={self.folder}", "listen_addresses=", *settings]
        self.port = next((int(one.partition("=")[2]) for one in settings if one.startswith("port=")), 5432)
        self._data = self.folder / "data"
        made = ["initdb", "-U", USER, "-A", "trust", "--no-sync", "-E", "UTF8", "--locale=C.UTF-8"]
        if standby_of is not None:
            made = ["pg_basebackup", "-h", str(standby_of.folder), "-p", str(standby_of.port), "-U", USER,
                    "-R", "-X", "stream", "--checkpoint=fast", "--no-sync"]
        subprocess.run(
            [self._bin / made[0], "-D", self._data, *made[1:]], check=True, stdout=subprocess.DEVNULL, **self.as_user,
        )
        self._names = itertools.count(1)
        self._free: list[str] = []
        self._process: subprocess.Popen[bytes] | None = None
        self.start()

    def start(self) -> None:
        """Start it, and wait until it answers."""
        self.launch()
        self.wait()

    def launch(self) -> None:
        """Start it. It ends with the thread that did so, at the latest."""
        settings = [part for one in self._settings for part in ("-c", one)]
        with (self.folder / "log").open("ab") as log:
            self._process = subprocess.Popen(
                [self._bin / "postgres", "-D", self._data, *settings], stdout=log, stderr=log, preexec_fn=_end_with_us,
                **self.as_user,
            )

    def wait(self) -> None:
        """Wait until it answers."""
        until = time.monotonic() + 20
        while True:
            try:
                self.run("postgres", "SELECT 1")
                return
            except Exception:
                assert time.monotonic() < until, (self.folder / "log").read_text()
                time.sleep(0.02)

    def pids(self) -> list[int]:
        """Its processes, as far as they work for somebody, the first one first."""
        assert self._process is not None
        return [self._process.pid, *(row[0] for row in self.run(
            "postgres", "SELECT pid FROM pg_stat_activity WHERE backend_type = 'client backend'",
        ))]

    def stop(self, how: signal.Signals = signal.SIGINT) -> None:
        """End it. SIGINT: at once, but in order; SIGQUIT: as if the light went out."""
        if self._process is not None:
            self._process.send_signal(how)
            self._process.wait()
            self._process = None

    def standby(self, *settings: str) -> Server:
        """A second server that follows this one, which from then on commits nothing that is not on both."""
        made = Server(*settings, standby_of=self)
        self.run("postgres", "ALTER SYSTEM SET synchronous_standby_names = '*'", "SELECT pg_reload_conf()")
        until = time.monotonic() + 60
        while self.run("postgres", "SELECT sync_state FROM pg_stat_replication") != [("sync",)]:
            assert time.monotonic() < until, (made.folder / "log").read_text()
            time.sleep(0.02)
        return made

    def close(self) -> None:
        """End it for good, and leave nothing."""
        self.stop(signal.SIGQUIT)
        shutil.rmtree(self.folder, ignore_errors=True)

    def url(self, name: str) -> str:
        """The address of a database on it."""
        return f"postgresql://{USER}@/{name}?host={self.folder}&port={self.port}"

    def run(self, name: str, *statements: str) -> list[Any]:
        """Run statements in a database, each on its own; the rows of the last."""
        import psycopg

        with psycopg.connect(self.url(name), autocommit=True) as connection:
            rows: list[Any] = []
            for one in statements:
                cursor = connection.execute(one)        # type: ignore[call-overload]
                rows = cursor.fetchall() if cursor.description else []
            return rows

    # --- databases ---

    def take(self) -> str:
        """The name of an empty database with our tables."""
        if self._free:
            return self._free.pop()
        name = f"club_{next(self._names)}"
        if name == "club_1":        # the other ones are copies of this one
            self.run("postgres", "CREATE DATABASE model")
            _make_tables(self.url("model"))
        self.run("postgres", f"CREATE DATABASE {name} TEMPLATE model STRATEGY file_copy")
        return name

    def give_back(self, name: str) -> None:
        """Let go of a database; whoever is still in it is thrown out, and all that is in it deleted."""
        self.run("postgres", f"SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = '{name}'")
        tables = [row[0] for row in self.run(
            name, "SELECT tablename FROM pg_tables WHERE schemaname = 'public' AND tablename <> 'alembic_version'",
        )]
        self.run(name, "BEGIN", *(f'DELETE FROM "{table}"' for table in tables), "COMMIT")
        self._free.append(name)


def _make_tables(url: str) -> None:
    from storage.postgres_server import engine_for, migrate, url_of

    migrate(engine_for(url_of(url)))


def _end_with_us() -> None:
    """The server gets the signal to end at once when the process that started it is gone (Linux only)."""
    with_us = getattr(ctypes.CDLL(None), "prctl", None)
    if with_us is not None:
        with_us(PR_SET_PDEATHSIG, signal.SIGQUIT)


@cache
def server() -> Server:
    """The one server of this process. Skips the test that asks for it where there is none to be had."""
    require()
    made = Server(*LAX)
    atexit.register(made.close)
    return made


def require() -> None:
    """Skip the test, or fail it where nothing may be left out, if PostgreSQL or its driver is missing."""
    if importlib.util.find_spec("psycopg") is None:
        missing("the driver psycopg is not installed")
    if programs() is None:
        missing("no PostgreSQL server is installed")


def missing(what: str) -> NoReturn:
    """Skip the test, or fail it where nothing may be left out."""
    if os.environ.get("SPRUNG_REQUIRE_ALL"):
        pytest.fail(what)
    pytest.skip(what)


@contextmanager
def database() -> Iterator[str]:
    """The address of an empty database."""
    name = server().take()
    try:
        yield server().url(name)
    finally:
        server().give_back(name)


@contextmanager
def pooler(server: Server, size: int) -> Iterator[Callable[[str], str]]:
    """pgbouncer before a server, with so many connections, each lent for a transaction; where a database is then."""
    program = shutil.which("pgbouncer") or shutil.which("pgbouncer", path="/usr/sbin")
    if program is None:
        missing("no pgbouncer is installed")
    folder = server.folder / "pooler"
    subprocess.run(["mkdir", folder], check=True, **server.as_user)
    port = free_port()
    settings = folder / "pgbouncer.ini"
    settings.write_text(
        f"[databases]\n* = host={server.folder} port={server.port} user={USER}\n"
        f"[pgbouncer]\nlisten_addr = 127.0.0.1\nlisten_port = {port}\nunix_socket_dir =\nauth_type = any\n"
        f"pool_mode = transaction\ndefault_pool_size = {size}\nlogfile = {folder}/log\n"
    )
    process = subprocess.Popen(
        [str(program), "-q", settings], preexec_fn=_end_with_us, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        **server.as_user,
    )
    try:
        _wait_for(port, folder / "log")
        yield lambda name: f"postgresql://{USER}@127.0.0.1:{port}/{name}"
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait()
        shutil.rmtree(folder, ignore_errors=True)


def _wait_for(port: int, log: Path) -> None:
    until = time.monotonic() + 20
    while True:
        try:
            socket.create_connection(("127.0.0.1", port)).close()
            return
        except OSError:
            assert time.monotonic() < until, log.read_text() if log.exists() else "no pooler"
            time.sleep(0.02)


@contextmanager
def address_of(kind: str, folder: Path) -> Iterator[str]:
    """The address of an empty store of that kind: memory, sqlite or postgresql."""
    match kind.rstrip(":"):
        case "memory":
            yield "memory:"
        case "sqlite":
            yield f"sqlite:///{folder / 'club.sqlite'}"
        case "postgresql":
            with database() as url:
                yield url
        case _:
            raise ValueError(kind)


KINDS = ("memory", "sqlite", "postgresql")


class FreshStores(Stores):
    """Scripts play on a fresh store each, on PostgreSQL too."""

    def __init__(self, where: str) -> None:
        super().__init__(where, open_store)
        self.real = False

    @asynccontextmanager
    async def url(self) -> AsyncIterator[str]:
        """The address of the store for one script."""
        if self._where != "postgresql:":
            async with super().url() as url:
                yield url
            return
        with database() as url:
            yield url
