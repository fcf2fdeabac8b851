"""The console: a phone, or several side by side, in a terminal or a plain pipe."""
from adapters.channel import Carries
from adapters.port import Adapter

CHANNEL = "console"
CARRIES = Carries(choices=99, label=40, text=10_000, numbered=True, pictures=True, svg=True, files=True)
ADAPTER = Adapter(CHANNEL, CARRIES)
