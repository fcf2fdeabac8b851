"""The console: a phone, or several side by side, in a terminal or a plain pipe."""
from adapters.channel import Carries
from adapters.port import Adapter

CHANNEL = "console"
CARRIES = Carries(choices=99, label=40, text=10_000, numbered=True, files=True)
"""Words say more in a terminal than the place of a picture; a sound is saved."""
ADAPTER = Adapter(CHANNEL, CARRIES)
