"""What a page sends, and how what was said is written for it.

What lives here: shapes alone. A choice says what it is about, so that a page can show a line's names, and know without
a signal what a tap will come to.
"""
from __future__ import annotations

from typing import Annotated, Any

from pydantic import Field, StringConstraints, ValidationInfo, model_validator

from adapters.channel import fit
from adapters.http.shapes import EITHER, SentAt, Shape
from adapters.web import CARRIES
from bot.lesson.line import Line
from bot.step import Choice, Said
from bot.talk.sheet import instant

Json = dict[str, Any]
Id = Annotated[str, StringConstraints(min_length=1, max_length=80, pattern=r"^[0-9A-Za-z-]+$")]


class Message(Shape):
    """What was typed or tapped, under an id that the phone gave it. The same id again is the same message."""

    id: Id
    sent_at: SentAt
    text: Annotated[str, StringConstraints(max_length=4000)] | None = None
    choice: Annotated[str, StringConstraints(max_length=200)] | None = None

    @model_validator(mode="after")
    def _one_of_two(self, _: ValidationInfo) -> Message:
        if (self.text is None) == (self.choice is None):
            raise ValueError(EITHER)
        return self


class Join(Shape):
    """A code, and a secret of the phone's own by which a second try after a lost answer is known."""

    code: Annotated[str, StringConstraints(min_length=4, max_length=40, pattern=r"^[0-9A-Za-z -]+$")]
    attempt: Annotated[str, StringConstraints(min_length=20, max_length=80, pattern=r"^[0-9A-Za-z-]+$")]


class Out(Shape):
    """Sign out: here, or on every phone."""

    everywhere: bool = False


class End(Shape):
    """Which phone is to be signed out."""

    id: Annotated[str, Field(min_length=1, max_length=80)]


class To(Shape):
    """What a browser answers who subscribes: where its maker's push service takes word for it, and its keys."""

    endpoint: Annotated[str, StringConstraints(min_length=1, max_length=1000)]
    p256dh: Annotated[str, StringConstraints(min_length=80, max_length=100, pattern=r"^[\w-]+=?$")]
    auth: Annotated[str, StringConstraints(min_length=20, max_length=30, pattern=r"^[\w-]+=*$")]


class Subscribe(Shape):
    """Where this phone is to be told of something while its page is closed; null: nowhere."""

    to: To | None


# --- out ----------------------------------------------------------------------------------------------

def shown(said: Said, phone: str) -> Json:
    """A message as a page has it. `phone`: whose; what another one asked is answered there too."""
    fitted = fit(said, CARRIES)
    about = dict(zip(said.choice_ids(), said.choices, strict=True))
    return {
        "seq": said.seq, "id": said.id, "at": instant(said.at), "text": "\n".join(fitted.texts),
        "choices": [{"id": one.id, "label": one.label, **_about(about[one.id])} for one in fitted.buttons],
        "files": [{
            "name": one.form.name, "media_type": one.form.media_type, "words": one.words,
            "url": f"/web/files/{said.secret}/{one.place}/{one.form.name}",
        } for one in fitted.files],
        "reply_to": _own(said.in_reply_to, phone), "asked": said.in_reply_to is not None,
    }


def _own(message: str | None, phone: str) -> str | None:
    """The phone's own id of the message that was answered."""
    start = f"{phone}."
    return message.removeprefix(start) if message is not None and message.startswith(start) else None


def _about(choice: Choice) -> Json:
    line = getattr(choice.tap, "line", None)
    out: Json = {"kind": choice.tap.kind}
    if isinstance(line, Line):
        out["line"] = {"skill": line.skill, "show": line.show, "children": list(line.children)}
    if (verdict := getattr(choice.tap, "verdict", None)) is not None:
        out["verdict"] = verdict
    return out
