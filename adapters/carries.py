"""What each channel can carry: limits as its makers document them, and what fits everywhere.

What lives here: one `Carries` for each channel, each with its source. An adapter that knows better says so itself;
`fit` in `adapters/channel.py` does the rest. Where a limit is documented nowhere it is that of EVERYWHERE.
"""
from __future__ import annotations

from typing import Final

from adapters.channel import Carries

# Reply buttons 3 and their labels 20 (WhatsApp is the narrowest), ids 64 bytes (Telegram is).
EVERYWHERE: Final = Carries(choices=3, label=20, text=1000, payload=64)

BY_CHANNEL: Final = {
    # python-telegram-bot 22.8, telegram.constants (Bot API 10.0): text 4096, callback data 64 bytes, 100 inline
    # buttons, photos of 10 MB, files of 50 MB. No length of a label is documented.
    "telegram": Carries(choices=100, label=20, text=4096, payload=64, pictures=True, files=True),
    # WhatsApp Business Platform, interactive reply buttons (2026-05-21): 3 buttons; pywa 4.5.0: labels 20, ids 256,
    # 1024 characters in a message with buttons (4096 without); images of 5 MB.
    "whatsapp": Carries(choices=3, label=20, text=1024, payload=256, pictures=True),
    # discord-api-docs c98d64bc (2026-08-06): 5 buttons in a row, 38 characters of a label shown (80 taken),
    # custom_id 100, messages of 2000.
    "discord": Carries(choices=5, label=38, text=2000, payload=100),
    # slack_sdk 3.48.0, models.blocks: 25 elements, section text 3000, action_id 255. Button text 75, of which a
    # narrow screen shows about 30.
    "slack": Carries(choices=25, label=30, text=3000, payload=255),
    # AWS End User Messaging, RCS limits: text 3072, 11 suggestions to a message, media of 100 MB. Suggestion labels 25.
    "rcs": Carries(choices=11, label=25, text=3072, payload=2000, pictures=True),
    # 3GPP TS 23.038 and 23.040: no buttons, and plain text in segments of 160 or 70, of 153 or 67 when joined. Four of
    # them hold the 600 characters of a reply.
    "sms": Carries(choices=0, text=612, segments=4, numbered=True),
    # XEP-0439 0.1.0 (deferred): no limit stated, labels distinct; buttons only on the newest message, so an older one
    # is answered by its number. RFC 6120: a server takes 10,000 bytes at the least, which is 2,000 of any characters.
    "xmpp": Carries(choices=100, label=20, text=2000, numbered=True),
    # matrix-spec d0ba2aae (2026-07-21): no message with buttons exists.
    "matrix": Carries(choices=0, text=1000, numbered=True),
    # RFC 5322 2.1.1 limits lines, which the encoding folds, and no text.
    "email": Carries(choices=0, text=10_000, numbered=True, pictures=True, files=True),
}


def carries_of(channel: str) -> Carries:
    """What one message on a channel of that name can carry; of an unknown one, what fits everywhere."""
    return BY_CHANNEL.get(channel.strip().lower(), EVERYWHERE)


def is_known(channel: str) -> bool:
    """Is it documented here what a channel of that name carries?"""
    return channel.strip().lower() in BY_CHANNEL
