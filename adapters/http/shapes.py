"""What goes in and out of the message API, as the models from which its description is made.

What lives here: shapes and the limits that a shape can express. A message with another field, or with a time that
has no zone, is none.
"""
from __future__ import annotations

from typing import Annotated, Any

from pydantic import (
    AfterValidator,
    AwareDatetime,
    BaseModel,
    ConfigDict,
    Field,
    StringConstraints,
    ValidationInfo,
    model_validator,
)

from adapters.addresses import LONGEST

LONGEST_ID = 200
EITHER = "a message has either a text or a choice: give one of them and leave the other out"

Id = Annotated[str, StringConstraints(min_length=1, max_length=LONGEST_ID, pattern=r"^[!-~]+$")]
Sender = Annotated[str, StringConstraints(
    min_length=1, max_length=LONGEST,
    pattern=r"^[^\x00-\x1f\x7f-\x9f]*[^\x00-\x20\x7f-\x9f][^\x00-\x1f\x7f-\x9f]*$",     # something to be seen
)]
OURS = ("console", "play", "web")       # whoever is heard there is known by other means than a gateway's word


def _a_gateways(channel: str) -> str:
    if channel in OURS:
        raise ValueError("on that channel the program hears for itself; name the one that you bring messages from")
    return channel


Channel = Annotated[
    str, StringConstraints(min_length=1, max_length=40, pattern=r"^[a-z0-9_.-]+$"), AfterValidator(_a_gateways),
]


SentAt = Annotated[AwareDatetime, Field(strict=True)]


class Shape(BaseModel):
    """A shape with no other fields than its own."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


def _either(schema: dict[str, Any]) -> None:
    """JSON Schema's word for it; and neither of them may be null."""
    schema["oneOf"] = [{"required": ["text"]}, {"required": ["choice"]}]
    for name in ("text", "choice"):
        schema["properties"][name].pop("default", None)


class Message(Shape):
    """What a person typed or tapped. The same `id` again is the same message, and gets the same answer."""

    model_config = ConfigDict(json_schema_extra=_either)

    id: Id = Field(description="The gateway's own, of printable letters without blanks.", examples=["m-1"])
    channel: Channel = Field(description="On phone channels (sms, whatsapp, …) a sender is a phone number.",
                             examples=["sms"], json_schema_extra={"not": {"enum": list(OURS)}})
    sender: Sender = Field(examples=["+447700900123"])
    sent_at: SentAt = Field(description="When it was sent, by the sender's clock, with its zone.",
                            examples=["2026-11-24T17:03:11Z"])
    text: str = Field(default=None, description="What was typed.", examples=["ava seen"])     # type: ignore[assignment]
    choice: Annotated[str, StringConstraints(max_length=200)] = Field(
        default=None, description="The id of the choice that was tapped.", examples=["c_1_0f2a"],     # type: ignore[assignment]
    )

    @model_validator(mode="after")
    def _one_of_two(self, _: ValidationInfo) -> Message:
        if ("text" in self.model_fields_set) == ("choice" in self.model_fields_set):
            raise ValueError(EITHER)
        return self

    @property
    def typed(self) -> str | None:
        """The text, where it was typed."""
        return self.text if "text" in self.model_fields_set else None

    @property
    def tapped(self) -> str | None:
        """The choice, where one was tapped."""
        return self.choice if "choice" in self.model_fields_set else None


class Choice(Shape):
    """A quick reply. Tapped, its id comes back as `choice`; it may be tapped late, and more than once."""

    id: str
    label: str


class Attachment(Shape):
    """A file that belongs to a message."""

    name: str
    media_type: str
    url: str


class Outgoing(Shape):
    """A message to a person. `seq` counts up for each person; `in_reply_to` is null where nobody asked."""

    id: str
    seq: int
    channel: str
    to: str
    text: str
    choices: tuple[Choice, ...]
    attachments: tuple[Attachment, ...]
    in_reply_to: str | None


class Replies(Shape):
    """What goes to the sender of a message."""

    replies: tuple[Outgoing, ...]


class Outbox(Shape):
    """Unasked messages, and the cursor behind which the next ones come."""

    messages: tuple[Outgoing, ...]
    next: str


class Nothing(Shape):
    """There is nothing to say; the body may be left out."""


class Failed(Shape):
    """What is known of a failed delivery. `permanent`: it will never work, so it is given up at once."""

    permanent: bool = False


class Fault(Shape):
    """One thing that is wrong: where, and what would do."""

    pointer: str = Field(description="A JSON pointer into the body, or the name of a parameter.")
    detail: str


class Problem(Shape):
    """A problem document (RFC 9457)."""

    type: str
    title: str
    status: int
    detail: str
    errors: tuple[Fault, ...] = ()


class State(Shape):
    """How the program is."""

    status: str
