"""Addresses on a channel, brought into one form, so that one phone is one sender however it is written.

What lives here: the rule for each kind of channel. Pure: an address in, the address under which it is kept out.
"""
from __future__ import annotations

import re
import unicodedata

PHONE = frozenset({"sms", "mms", "whatsapp", "rcs", "signal", "voice", "imessage"})
"""Channels on which an address is a phone number."""

LONGEST = 200
RESERVED = re.compile(
    # Set aside for drama by Ofcom. The library calls the mobile and the 01632 numbers possible but not valid.
    r"\+44(?:7700900\d{3}|1632960\d{3})",
)
NUMBER = "for instance +447700900123"
_UNSEEN = ("Cc", "Cf", "Cs", "Zl", "Zp")


class NoAddress(ValueError):
    """That is no address on this channel; the text is one sentence for the gateway."""


def normal(channel: str, address: str) -> str:
    """The address as it is kept: E.164 on a phone channel, else trimmed. Raises NoAddress."""
    address = address.strip()
    if not address or len(address) > LONGEST:
        raise NoAddress(f"an address has 1 to {LONGEST} letters")
    if any(unicodedata.category(letter) in _UNSEEN for letter in address):
        raise NoAddress("an address has only letters that can be seen")
    return _number(address) if channel in PHONE else unicodedata.normalize("NFC", address)


def _number(text: str) -> str:
    import phonenumbers  # not before it is needed: its tables take a while to load

    try:
        # With no region: only a number with its country says whose it is.
        number = phonenumbers.parse(text, None)
    except phonenumbers.NumberParseException:
        raise NoAddress(f"on this channel it is a whole phone number with its country, {NUMBER}") from None
    written = phonenumbers.format_number(number, phonenumbers.PhoneNumberFormat.E164)
    if number.extension:
        raise NoAddress(f"a phone number has no extension here, {NUMBER}")
    if not (phonenumbers.is_valid_number(number) or RESERVED.fullmatch(written)):
        raise NoAddress(f"there is no such phone number; check its digits, {NUMBER}")
    return written
