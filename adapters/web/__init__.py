"""The page: a class in the browser of a phone, with or without a signal. It is served beside the message API."""
from adapters.channel import Carries
from adapters.port import Adapter

CHANNEL = "web"
CARRIES = Carries(choices=99, label=40, text=100_000)
"""A page has room for every choice; a long text can be scrolled."""

ADAPTER = Adapter(CHANNEL, CARRIES)
