"""The message API: the door through which any gateway brings messages in and takes unasked ones out."""
from adapters.channel import Carries
from adapters.port import Adapter

CARRIES = Carries(choices=99, label=40, text=100_000, pictures=True, svg=True, files=True)
"""The API carries all of it. What a channel behind it can show is the gateway's to say."""

ADAPTER = Adapter(None, CARRIES)
