"""Phone numbers and signed webhooks, against published values.

Source: data/06_phone_text.json: E.164 forms, possible and valid as phonenumbers 9.0.43 (Google's libphonenumber
metadata) computes them; numbers reserved for drama by Ofcom (UK), in North America (555-0100 to 555-0199) and by ACMA
(Australia, from memory); RFC 4231 (HMAC-SHA-256 test cases 2, 3, 4, 6, typed from memory and recomputed equal);
Standard Webhooks 1.0.0: the reference vector of its libraries, and a documentation example (from memory, recomputed
equal).
"""
from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from standardwebhooks import Webhook
from standardwebhooks.webhooks import hmac_data

from adapters.addresses import PHONE, NoAddress, normal
from adapters.http.keys import gateway_of
from adapters.http.push import headers
from bot.port import Gateway

CASES = json.loads((Path(__file__).parent / "data" / "06_phone_text.json").read_text(encoding="utf-8"))["cases"]


def kind(which: str) -> list[dict[str, Any]]:
    return [case for case in CASES if case["kind"] == which]


def ids(case: dict[str, Any]) -> str:
    return case["id"]


WITH_E164 = [case for case in kind("phone") if "e164" in case["expected"]]
RESERVED = {
    case["expected"]["e164"] for case in WITH_E164
    if "reserved_for_fiction" in case and case["expected"]["possible_reason"] == "IS_POSSIBLE"
}


def good(case: dict[str, Any]) -> bool:
    """Valid, or a whole number out of a reserved range."""
    return case["expected"]["valid"] or case["expected"]["e164"] in RESERVED


@pytest.mark.parametrize("case", WITH_E164, ids=ids)
def test_a_number_is_taken_if_it_is_valid_or_reserved(case):
    """The E.164 form of a valid or reserved number is its own; any other number is refused."""
    number = case["expected"]["e164"]
    if good(case):
        assert normal("sms", number) == number
    else:
        with pytest.raises(NoAddress):
            normal("sms", number)


@pytest.mark.parametrize("case", [case for case in WITH_E164 if "+" in case["input"]["text"]], ids=ids)
def test_however_it_is_written_it_is_the_same_number(case):
    """A number with its country is brought into its E.164 form from any writing; one with an extension is refused."""
    written = case["input"]["text"]
    if "ext" in written or not good(case):
        with pytest.raises(NoAddress):
            normal("whatsapp", written)
    else:
        assert normal("whatsapp", written) == case["expected"]["e164"]


@pytest.mark.parametrize("case", [case for case in kind("phone") if "error" in case["expected"]], ids=ids)
def test_what_can_not_be_parsed_is_refused(case):
    """No number, an unknown country, and a number whose country is not said are refused with a sentence."""
    with pytest.raises(NoAddress, match="for instance"):
        normal("sms", case["input"]["text"])


def test_a_number_without_its_country_is_nobodys():
    """Every national writing is refused: the gateway knows the country, we don't."""
    national = [case["input"]["text"] for case in kind("phone") if "+" not in case["input"]["text"]]
    assert len(national) >= 8
    for text in national:
        with pytest.raises(NoAddress):
            normal("sms", text)


@pytest.mark.parametrize("channel", sorted(PHONE))
def test_every_phone_channel_asks_for_numbers(channel):
    """Words are no address where people have numbers; elsewhere they are, trimmed and in one form."""
    with pytest.raises(NoAddress):
        normal(channel, "jo")
    assert normal("telegram", "  Jo\u0308 ") == "J\u00f6"


def _bytes(spec: Any) -> bytes:
    return bytes.fromhex(spec["byte"]) * spec["times"] if isinstance(spec, dict) else bytes.fromhex(spec)


@pytest.mark.parametrize("case", kind("hmac_sha256"), ids=ids)
def test_the_digest_is_hmac_sha256(case):
    """What signs is the function of RFC 4231."""
    key, data = _bytes(case["input"]["key_hex"]), _bytes(case["input"]["data_hex"])
    assert hmac_data(key, data).hex() == case["expected"]


@pytest.mark.parametrize("case", [case for case in kind("standard_webhooks") if "input" in case], ids=ids)
def test_a_push_is_signed_as_the_specification_says(case):
    """The headers of a push carry the published id, time and signature for the published secret and body."""
    given = case["input"]
    at = datetime.fromtimestamp(given["webhook_timestamp"], UTC)
    gateway = Gateway("gate", "https://gate.example", given["secret"])
    made = headers(gateway, given["webhook_id"], given["body"], at)
    assert made["webhook-signature"] == case["expected"]["signature"]
    assert (made["webhook-id"], made["webhook-timestamp"]) == (given["webhook_id"], str(given["webhook_timestamp"]))


def test_a_secret_is_as_long_as_the_specification_asks():
    """A new secret begins with the prefix and holds between 24 and 64 bytes."""
    (rules,) = [case["expected"] for case in kind("standard_webhooks") if case["id"] == "webhook_rules"]
    secret = gateway_of("gate", "https://gate.example", None).push_secret
    assert secret is not None
    assert secret.startswith(rules["secret_prefix"])
    assert rules["secret_min_bytes"] <= len(Webhook(secret)._whsecret) <= rules["secret_max_bytes"]
