"""What is counted, for whoever watches the program. No names, no addresses."""
from __future__ import annotations

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, generate_latest

LATE_SECONDS = (0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 15, 60, 300, 3600)
SECONDS = (0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 10)
MEDIA_TYPE = "text/plain; version=0.0.4; charset=utf-8"


class Metrics:
    """The counters of one program."""

    def __init__(self) -> None:
        self._registry = registry = CollectorRegistry()
        self.messages = Counter("sprung_messages", "Messages that were answered.", ["gateway"], registry=registry)
        self.seconds = Histogram(
            "sprung_message_seconds", "From received to answered, durably.", buckets=SECONDS, registry=registry,
        )
        self.problems = Counter("sprung_problems", "Requests that ended in a problem.", ["status"], registry=registry)
        self.settled = Counter(
            "sprung_unasked_messages", "Unasked messages: delivered, failed (and tried again), given up, dropped.",
            ["how"], registry=registry,
        )
        for how in ("delivered", "failed", "given up", "dropped"):
            self.settled.labels(how)
        self.polls = Gauge("sprung_polls", "Gateways that wait for unasked messages.", registry=registry)
        self.aside = Gauge(
            "sprung_put_aside", "Messages and reminders in the database that a fault of ours kept from being handled.",
            registry=registry,
        )
        self.late = Histogram(
            "sprung_reminder_late_seconds", "From when something was due to when it was looked at.",
            buckets=LATE_SECONDS, registry=registry,
        )

    def answered(self, gateway: str, seconds: float) -> None:
        """A message was answered, so long after it came."""
        self.messages.labels(gateway).inc()
        self.seconds.observe(seconds)

    def text(self) -> bytes:
        """All of it as Prometheus reads it."""
        return generate_latest(self._registry)
