"""What is printed is read back by a part that is not ours: PDFium, by pypdfium2."""
from __future__ import annotations

import os

import pytest


@pytest.fixture(autouse=True)
def _printer() -> None:
    """The extra `print` is there; where it is not the tests of paper are left out, unless all are wanted."""
    for name in ("typst", "pypdfium2"):
        if not os.environ.get("SPRUNG_REQUIRE_ALL"):
            pytest.importorskip(name, reason=f"paper is tried with {name}: pip install -e '.[test]'")
