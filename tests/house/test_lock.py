"""What is installed is what was looked at: the lock names each package with its digests, and no place to fetch it."""
from __future__ import annotations

import re
import tomllib

from tests.house.readme_example import ROOT

LOCK = (ROOT / ".ci" / "requirements.lock").read_text("utf-8")
PINNED = re.compile(r"(?P<name>[a-z0-9][a-z0-9-]*)==[\w.+!]+(?: ; .+)?(?P<hashes>(?: --hash=sha256:[0-9a-f]{64})+)")
ADDRESS = re.compile(r"://|^\s*(?:-i|-f|--index|--extra-index|--find-links|--trusted)|@\s*file|\bgit\+", re.MULTILINE)


def pinned() -> dict[str, str]:
    """Each package with its digests; a line that continues is one."""
    found = {}
    bare = re.sub(r"^\s*#.*\n", "", LOCK, flags=re.MULTILINE)       # or a comment would end what goes on behind it
    for line in bare.replace("\\\n", " ").splitlines():
        if line.strip():
            match = PINNED.fullmatch(re.sub(r"\s+", " ", line).strip())
            assert match is not None, line
            found[match["name"]] = match["hashes"]
    return found


def test_every_package_is_locked_to_its_digests() -> None:
    """No line but exact versions, each with a SHA-256 or more; pip takes nothing else by `--require-hashes`."""
    assert len(pinned()) > 80
    assert "--require-hashes -r .ci/requirements.lock" in (ROOT / ".ci" / "run").read_text("utf-8")


def test_the_lock_names_no_place() -> None:
    """No address of an index, a file or a repository: it says what, and whoever installs says from where."""
    assert ADDRESS.findall(LOCK) == []


def test_all_that_is_declared_is_locked() -> None:
    """Whatever the program and its tests say that they need is in the lock."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    extras = project["optional-dependencies"]
    needed = [*project["dependencies"], *extras["test"], *extras["postgres"], *extras["webpush"]]
    names = {re.split(r"[^\w-]", one)[0].lower().replace("_", "-") for one in needed}
    assert names <= pinned().keys()
