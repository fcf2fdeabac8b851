"""The page: a class in the browser of a phone, with or without a signal. It is served beside the message API.

A phone's message goes the way of any other, under an id that the phone gave it and with the time of its tap. What a
phone is told beside the talk, `sheet` in `bot/talk/sheet.py` makes of the desk that a message would find.

In `static/`, plain modules without a build step: `kept.js` has a message in IndexedDB before it is shown and until it
is answered, `post.js` sends in order, `link.js` listens, `foresee.js` (pure) guesses what the sheet will be, `dock.js`
is what a thumb reaches. Guesses are for the eye; what a mark means is decided by the server. `webpush.py` has word for
a phone whose page is closed. `python -m tests.adapters.web.pictures FOLDER` shows what all of it looks like.

Where the design left room:

- A reminder never takes the line from under a thumb: the line that stands there stays docked, a rest that is over is a
  ring, and its choices are in the record.
- Without a signal a line of the plan is marked in words, each child by her whole name: a text means the same whatever
  the server knows by then, and what it does not understand is shown and asked.
- What may have reached the server already is taken back by its own answer's Undo, never by a bare `undo`.
"""
from adapters.channel import Carries
from adapters.port import Adapter

CHANNEL = "web"
CARRIES = Carries(choices=99, label=40, text=100_000, pictures=True, svg=True, files=True)
"""A page has room for every choice; a long text can be scrolled."""

ADAPTER = Adapter(CHANNEL, CARRIES)
