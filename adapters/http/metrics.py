"""What is counted, for whoever watches the program. No names, no addresses; of gateways what they are called.

What lives here: the counters and what they are called. On the path of a message is nothing but these; what has to be
asked of the store is asked when somebody looks (`looked`).
"""
from __future__ import annotations

from datetime import datetime

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, ProcessCollector, generate_latest

from bot.port import Waits

LATE_SECONDS = (0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 15, 60, 300, 3600)
SECONDS = (0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 10)
MEDIA_TYPE = "text/plain; version=0.0.4; charset=utf-8"
OUTCOMES = ("answered", "refused", "conflict", "busy", "failed")
"""Of a message: answered; not as it should be; its id was another's; not to be saved just now; a fault of ours."""


class Metrics:
    """The counters of one program."""

    def __init__(self) -> None:
        self._registry = registry = CollectorRegistry()
        self.messages = Counter(
            "sprung_messages", "Messages by what became of them.", ["gateway", "outcome"], registry=registry,
        )
        self._by_outcome: dict[tuple[str, str], Counter] = {}
        self.seconds = Histogram(
            "sprung_message_seconds", "From received to answered, durably.", buckets=SECONDS, registry=registry,
        )
        self.waiting = Gauge(
            "sprung_messages_waiting", "Messages that came and are not answered yet.", registry=registry,
        )
        self.problems = Counter("sprung_problems", "Requests that ended in a problem.", ["status"], registry=registry)
        self.errors = Counter(
            "sprung_errors", "What went to the log as a warning or an error.", ["level", "kind"], registry=registry,
        )
        self.commits = Histogram(
            "sprung_commit_seconds", "Commits of the database.", buckets=SECONDS, registry=registry,
        )
        self.polls = Gauge("sprung_polls", "Gateways that wait for unasked messages.", registry=registry)
        self.late = Histogram(
            "sprung_reminder_late_seconds", "From when something was due to when it was looked at.",
            buckets=LATE_SECONDS, registry=registry,
        )
        self._on_the_way_out(registry)
        self._in_the_store(registry)
        ProcessCollector(registry=registry)

    def _on_the_way_out(self, registry: CollectorRegistry) -> None:
        self.settled = Counter(
            "sprung_unasked_messages", "Unasked messages: delivered, failed (and tried again), given up, dropped.",
            ["how"], registry=registry,
        )
        for how in ("delivered", "failed", "given up", "dropped"):
            self.settled.labels(how)
        self.pushes = Counter(
            "sprung_pushes", "Tries to push something to a gateway, or to a phone whose page is closed.", ["to", "how"],
            registry=registry,
        )
        for to in ("gateway", "phone"):
            for how in ("delivered", "failed"):
                self.pushes.labels(to, how)

    def _in_the_store(self, registry: CollectorRegistry) -> None:
        self._up = Gauge("sprung_store_up", "Did the store answer just now?", registry=registry)
        self._due = Gauge("sprung_reminders_due", "Reminders that are due and not sent yet.", registry=registry)
        self._due_age = Gauge("sprung_reminder_oldest_seconds", "How long the first waits.", registry=registry)
        self._letters = Gauge(
            "sprung_outbox_letters", "Unasked messages that are not delivered yet.", ["gateway"], registry=registry,
        )
        self._oldest = Gauge(
            "sprung_outbox_oldest_seconds", "How long ago the oldest of them was said.", ["gateway"], registry=registry,
        )
        self.aside = Gauge(
            "sprung_put_aside", "Messages and reminders in the database that a fault of ours kept from being handled.",
            registry=registry,
        )

    def handled(self, gateway: str, outcome: str, seconds: float) -> None:
        """Something became of a message, so long after it came."""
        one = self._by_outcome.get((gateway, outcome))
        if one is None:         # looking a label up takes as long as all the rest
            one = self._by_outcome[gateway, outcome] = self.messages.labels(gateway, outcome)
        one.inc()
        if outcome == "answered":
            self.seconds.observe(seconds)

    def looked(self, waits: Waits | None, aside: int, now: datetime) -> None:
        """What waits in the store by now, and how much was put aside; None: it did not say."""
        self._up.set(waits is not None)
        self._letters.clear()
        self._oldest.clear()
        if waits is None:
            return
        self.aside.set(aside)
        self._due.set(waits.due)
        self._due_age.set(0 if waits.due_since is None else (now - waits.due_since).total_seconds())
        for gateway, queue in waits.letters.items():
            self._letters.labels(gateway).set(queue.letters)
            self._oldest.labels(gateway).set(max(0.0, (now - queue.oldest).total_seconds()))

    def text(self) -> bytes:
        """All of it as Prometheus reads it."""
        return generate_latest(self._registry)
