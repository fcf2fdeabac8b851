"""What an SMS costs, against published counts.

Source: data/06_phone_text.json, kind `sms`: 3GPP TS 23.038 and 23.040, each text counted alike with a table of the
standard, with smsutil 1.1.3 and with sms-segments-calculator 1.3.0.
"""
from __future__ import annotations

import json
from pathlib import Path

import pytest

from adapters.channel import split_sms
from adapters.sms import BASIC, EXTENSION, JOINED, SINGLE, count, plain

CASES = [
    case
    for case in json.loads((Path(__file__).parent / "data" / "06_phone_text.json").read_text(encoding="utf-8"))["cases"]
    if case["kind"] == "sms"
]


def text_of(case: dict) -> str:
    """The text that a case spells out: as it is, repeated, or in runs of one sign."""
    given = case["input"]
    if "repeat" in given:
        return given["repeat"][0] * given["repeat"][1]
    return given["text"] if "text" in given else "".join(char * times for char, times in given["runs"])


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["id"])
def test_an_sms_is_counted_as_published(case):
    """Encoding, units and segments of each text."""
    assert count(text_of(case))._asdict() == case["expected"]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["id"])
def test_a_text_is_cut_into_segments_that_hold(case):
    """Cut into messages of one segment, every one of them is counted as one, and nothing is lost."""
    pieces = split_sms(text_of(case), 1000, 1)
    assert all(count(piece).segments == 1 for piece in pieces)
    assert "".join("".join(pieces).split()) == "".join(text_of(case).split())


def test_the_alphabet_has_its_size():
    """TS 23.038, 6.2.1: 128 places less the escape, and ten in the extension table, the page break among them."""
    assert len(BASIC) == 127
    assert len(EXTENSION) == 10
    assert not BASIC & EXTENSION


@pytest.mark.parametrize("sign", ["’", "“", "…", "–", "✓", "\u00a0"])
def test_one_fine_sign_costs_more_than_half_and_is_made_plain(sign):
    """160 characters become 70 by one such sign, and 160 again once it is plain."""
    text = sign + "a" * 150
    assert count(text).segments == 3
    assert count(plain(text)).segments == 1
    assert (SINGLE["GSM-7"], SINGLE["UCS-2"], JOINED["GSM-7"], JOINED["UCS-2"]) == (160, 70, 153, 67)
