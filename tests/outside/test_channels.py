"""What channels carry, against their documented limits.

Source: data/07_channels.json, each row with its own (constants of client libraries, the makers' documentation, RFCs;
`status` says which row is from memory).
"""
from __future__ import annotations

import json
from pathlib import Path

import pytest

from adapters.carries import BY_CHANNEL, EVERYWHERE
from adapters.sms import JOINED, SINGLE

ROWS = json.loads((Path(__file__).parent / "data" / "07_channels.json").read_text(encoding="utf-8"))["cases"]
LIMITS = {      # what a row limits, by its name there
    "message_text_chars": "text", "button_message_body_chars": "text", "text_message_chars": "text",
    "message_chars": "text", "section_text_chars": "text", "text_chars": "text",
    "callback_data_bytes": "payload", "reply_button_id_chars": "payload", "custom_id_chars": "payload",
    "button_value_chars": "payload", "action_id_chars": "payload", "payload_bytes": "payload",
    "reply_button_title_chars": "label", "button_label_chars": "label", "label_chars_shown": "label",
    "button_text_chars": "label",
    "inline_buttons_total": "choices", "reply_buttons": "choices", "actions_block_elements": "choices",
    "suggestions_per_message": "choices", "buttons": "choices", "buttons_per_row": "choices",
}
LIMITED = [row for row in ROWS if row.get("what") in LIMITS]


@pytest.mark.parametrize("row", LIMITED, ids=lambda row: f"{row['channel']}-{row['what']}")
def test_no_more_is_declared_than_is_documented(row):
    """Choices, labels, texts and ids of each channel stay within its documented limits."""
    most = row["value"][1] if isinstance(row["value"], list) else row["value"]
    assert row["status"] == "verified"
    assert getattr(BY_CHANNEL[row["channel"]], LIMITS[row["what"]]) <= most


@pytest.mark.parametrize("row", [row for row in ROWS if row["channel"] == "derived"], ids=lambda row: row["id"])
def test_what_fits_everywhere_is_what_follows_from_all(row):
    """The longest label and payload that fit every channel with buttons, as derived there."""
    ours = {"portable_label": EVERYWHERE.label, "portable_payload": EVERYWHERE.payload}
    assert ours[row["id"]] == row["expected"]


def test_pictures_are_sent_where_they_are_documented():
    """A channel is said to carry pictures or files where a row gives their size; e-mail carries them by nature."""
    sizes = ("photo_upload_bytes", "image_bytes", "media_bytes")
    pictures = {row["channel"] for row in ROWS if row.get("what") in sizes}
    files = {row["channel"] for row in ROWS if row.get("what") == "upload_bytes"}
    assert {name for name, carries in BY_CHANNEL.items() if carries.pictures} == pictures | {"email"}
    assert {name for name, carries in BY_CHANNEL.items() if carries.files} == files | {"email"}


def test_an_sms_has_plain_text_and_no_buttons():
    """The rows of SMS: no buttons, no formatting, 160 and 153, 70 and 67."""
    rows = {row["what"]: row["value"] for row in ROWS if row["channel"] == "sms"}
    assert (SINGLE["GSM-7"], JOINED["GSM-7"]) == (rows["gsm7_single_segment"], rows["gsm7_multi_segment"])
    assert (SINGLE["UCS-2"], JOINED["UCS-2"]) == (rows["ucs2_single_segment"], rows["ucs2_multi_segment"])
    assert BY_CHANNEL["sms"].segments > 0
    assert BY_CHANNEL["sms"].choices == rows["buttons"]


def test_a_message_fits_the_smallest_stanza():
    """XMPP: a server takes 10,000 bytes of a stanza at the least (RFC 6120, 13.12, from memory); any text fits."""
    (row,) = (row for row in ROWS if row.get("what") == "stanza_bytes_minimum_a_server_must_take")
    assert len(("😀" * BY_CHANNEL["xmpp"].text).encode()) < row["value"]
