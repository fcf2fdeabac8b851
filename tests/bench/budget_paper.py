"""Paper for 1,000 children: certificates, the order sheet, the list; each within 5 s and 200 MB of memory.

Run by hand: python tests/bench/budget_paper.py. Each is made in a process of its own, as the command would, so that its
memory is its own: the highest it had (`ru_maxrss`), Python, store and fonts included. Seconds are of CPU, which other
work on the machine does not change; those by the clock are shown.
"""
from __future__ import annotations

import asyncio
import json
import os
import resource
import statistics
import subprocess
import sys
from datetime import date, datetime
from pathlib import Path
from time import perf_counter

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT))
ROUNDS = int(os.environ.get("SPRUNG_ROUNDS", "5"))
CHILDREN, SECONDS, MEGABYTES = 1000, 5.0, 200
FIRST = ["Łucja", "Nguyễn Thị", "Seán", "Ava", "Zoë", "Đorđe", "Şule", "Björk", "Noor", "محمد", "小龍", "Anaïs"]
LAST = ["Nowak-Żółć", "Ánh", "Ó Súilleabháin", "Price", "Quill", "Ilić", "Aydın", "Holm", "Rahman", "李"]
PAPERS = ("order sheet", "certificates", "presentation list")


def made_hall():
    """A club of 50 classes of 20; everybody has the one skill of the award already."""
    from bot.people.hall import read_hall

    days = ("monday", "tuesday", "wednesday", "thursday", "friday")
    classes = "".join(
        f'[[class]]\nid = "c{n}"\nname = "Class {n}"\nday = "{days[n % 5]}"\nstart = "17:00"\ncoach = "jo"\n'
        for n in range(CHILDREN // 20)
    )
    club = f'name = "Bench Hall"\n{classes}[[person]]\nid = "jo"\nrole = "coach"\n'
    scheme = '[scheme]\nname = "S"\n[[award]]\nid = "one"\nname = "Lantern"\n'
    scheme += '[[award.skill]]\nid = "hop"\nname = "Hop"\n'
    rows = [f"{FIRST[n % 12]} {LAST[n // 12 % 10]} {n},c{n // 20},one,hop" for n in range(CHILDREN)]
    return read_hall(scheme, club, "child,class,award,has\n" + "\n".join(rows) + "\n")


async def loaded(path: str) -> None:
    from datetime import UTC

    from adapters.clock import SimulatedClock
    from adapters.service import Service
    from storage import open_store

    store = open_store(path)
    now = datetime(2026, 11, 24, 12, tzinfo=UTC)
    await store.load(made_hall(), now)
    await store.meet("x", "jo", "bench-hall", "jo")
    await Service(store, SimulatedClock(now)).hear("x", "jo", text="put on the order")
    await store.close()


async def printed(path: str, what: str) -> int:
    from adapters.paper import pages
    from storage import open_store

    store = open_store(path)
    club = await store.snapshot("bench-hall")
    await store.close()
    if what == "order sheet":
        return len(pages.order_pages(club, date(2026, 11, 24)))
    if what == "certificates":
        several = [pages.certificate_pages(club, klass.id, None) for klass in club.club.classes]
        assert sum(len(rows) for _, rows in several) == CHILDREN
        return sum(len(document) for document, _ in several)
    rows = [[row.name, row.award] for _, several in pages.certificates(club) for row in several]
    return len(pages._list(club.club, "List", date(2026, 11, 24), [("All", ["Name", "Award"], rows)], None))


def one(path: str, what: str) -> None:
    began = perf_counter()
    size = asyncio.run(printed(path, what))
    used = resource.getrusage(resource.RUSAGE_SELF)
    print(json.dumps({"cpu": used.ru_utime + used.ru_stime, "seconds": perf_counter() - began,
                      "mb": used.ru_maxrss / 1024, "bytes": size}))


def main() -> int:
    """Each paper so many rounds; the median counts. 1 where a budget is broken."""
    import tempfile

    fits = True
    with tempfile.TemporaryDirectory() as folder:
        path = f"sqlite:///{folder}/bench.sqlite"
        asyncio.run(loaded(path))
        for what in PAPERS:
            rounds = [json.loads(subprocess.run([sys.executable, __file__, path, what], check=True, capture_output=True,
                                                text=True).stdout) for _ in range(ROUNDS)]
            seconds = statistics.median(found["seconds"] for found in rounds)
            megabytes = statistics.median(found["mb"] for found in rounds)
            cpu = statistics.median(found["cpu"] for found in rounds)
            ok = cpu <= SECONDS and megabytes <= MEGABYTES
            fits &= ok
            print(f"{what}: {cpu:.2f} s of CPU (at most {SECONDS:.0f}), {seconds:.1f} by the clock, "
                  f"{megabytes:.0f} MB (at most {MEGABYTES}), "
                  f"{rounds[0]['bytes'] / 1e6:.2f} MB on disk {'' if ok else 'BROKEN'}".rstrip())
    return 0 if fits else 1


if __name__ == "__main__":
    if len(sys.argv) == 3:
        one(*sys.argv[1:])
    else:
        sys.exit(main())
