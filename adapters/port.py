"""What an adapter says of itself in the entry-point group `sprung.adapters`, and the laws that it obeys.

Whatever lets people in registers there: the console, the message API, a messenger of somebody else's. One suite,
`tests/adapters/conformance/`, holds each of them to the same laws:

- What a person typed reaches `Service.hear` as it was typed, from one address on one channel, once.
- An answer goes out only once `hear` has returned it, whole and in order, to whoever asked and to nobody else.
- A choice that is picked is the one that was shown, however late.
- An unasked message comes to its person in order, and still comes where it was said while the adapter was away.
- Whatever goes wrong is one sentence for whoever is there, and the next message is answered.
- What is shown keeps to what the channel carries, and nothing is dropped for it.
"""
from __future__ import annotations

from dataclasses import dataclass
from importlib.metadata import entry_points

from adapters.channel import Carries

GROUP = "sprung.adapters"


@dataclass(frozen=True, slots=True)
class Adapter:
    """What stands behind an entry point. `channel`: that of all its messages; None: each message says its own."""

    channel: str | None
    carries: Carries


def registered() -> dict[str, Adapter]:
    """Every adapter that is installed, by the name of its entry point. Raises TypeError where one is none."""
    found = {one.name: one.load() for one in entry_points(group=GROUP)}
    for name, one in found.items():
        if not isinstance(one, Adapter):
            raise TypeError(f"the entry point {name} of {GROUP} leads to no Adapter")
    return found
