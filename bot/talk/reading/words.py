"""Our own words: the verdicts, the notes, the commands, and what people type in their place.

A table, so that a word is added here and nowhere else. All are written as they are when folded.
"""
from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache
from typing import Final

from bot.talk.reading.items import Item, Kind, Node, Spelled

VERDICTS: Final = {
    "seen": "seen|y|yes|yep|yeah|ok|okay|pass|passed|shown|done|got it|did it|tick|ticked|✓|✔|☑|✅|👍",
    "not yet": (
        "not yet|not seen|not quite|not there|not shown|n|no|nope|x|nearly|almost|missed|not passed|fail|failed|"
        "another go|needs another go|again|try again|✗|✘|❌|×|✖|👎"
    ),
}
NOTES: Final = {
    "away": "away|absent|missing|not here|is not here|isnt here|off sick|gone|went home|gone home|home",
    "here": "here|present|arrived|has come",
    "sits": "sits|sits out|sitting out|sitting|sit out|sits down",
    "back": "back|is back|back in|joins in",
    "leaves": "leaves|leaving|leaves at|leaving at|leaves early at|left at|left|goes|goes at|until",
    "bump": "bump|bumped|bump for|had a bump",
    "held": "hold news|hold the news|hold news of|no news|no news of",
    "freed": "release|release news|release the news|release news of|send news|send the news of|send news of",
    "cut off": "cut off|cut off contact|cut off contacts|cut off the family of",
}
SAYS: Final = {
    "close": "close|close the class|close the lesson|close lesson|close class",
    "pause": "pause|wait for us",
    "carry on": "carry on|resume|continue|go on",
    "undo": "undo|undo that|take that back|take it back",
    "resting": "resting|who rests|who is resting|whos resting|rests",
    "next": "next|whos next|who is next|whom next|what next|whats next",
    "skip": "skip|skip this|skip it",
    # A carrier may take any of these for an opt-out, so none of them may ever mean something else to us.
    "stop": (
        "stop|stop all|stopall|end|cancel|quit|unsubscribe|opt out|optout|revoke|stop it|stop messages|"
        "stop messaging|stop messaging me|stop texting|stop texting me|no more messages|cancel that|cancel it|"
        "end class|end the class|end lesson|end the lesson|stop class|stop the class|stop lesson|stop the lesson"
    ),
    "help": "help|info|help me",
    "everyone": "everyone|everybody|everyone here|everybody here|everyone is here|all are here",
    "who here": (
        "who is here|whos here|who is there|whos there|who is away|whos away|who is missing|whos missing|register|"
        "the register"
    ),
    "plan": "plan|see the plan|the plan|see plan",
    "awards": "awards|the awards",
    "order": "order|orders|the order|order sheet|the order sheet|whats to order|what is to order",
    "on order": "put on the order|put them on the order|awards on the order|order awards|order them",
    "sent": "ordered|awards ordered|all ordered|the order is out|order sent",
    "arrived": "they have come|awards arrived|awards have come|the awards have come|all have come",
    "hand over": "hand over|awards week|to hand over|whats to hand over|present|present awards|presentation",
    "handed over": "handed over|all handed over|awards handed over|present all|all presented",
    "award list": "award list|awards list|the list|show list|presentation list",
    "news": "news|the news|show me|show news|show me the news|show the news",
    "send news": "send as usual|send it as usual",
    "hold some": "hold some",
    "agreed": "agreed|what is agreed|whats agreed|agreements",
    "rulings": "rulings|the rulings|all rulings",
    "paper": (
        "paper|on paper|for paper|class sheet|the class sheet|sheet|the sheet|paper sheet|print sheet|print the sheet|"
        "print a sheet|print class sheet|print the class sheet|print the class|print class|print it"
    ),
    "pace": "pace|the pace|the halls pace|how long does it take|how long do we take",
    "eve": "day before|the day before|tell me the day before|remind me the day before",
    "no eve": "not the day before|no day before|dont tell me the day before|dont remind me the day before",
    "lines of 1": "lines of 1|lines of one|one by one|one at a time",
    "lines of 2": "lines of 2|lines of two|in twos|in pairs",
    "lines of 3": "lines of 3|lines of three|in threes",
    "lines of 4": "lines of 4|lines of four|in fours",
    "lines of 5": "lines of 5|lines of five|in fives",
    "lines of 6": "lines of 6|lines of six|in sixes",
    "lines as written": "lines as written|lines as usual|lines as ever|lines of any",
    "yes": "yes|y|yep|yeah|ok|okay|yes please|sure|of course|please do",
    "no": "no|n|nope|nah|no thanks|no thank you",
}
ASKS: Final = {
    "owed": "owed|owes|owe|whats owed|what is owed|who owes|still owed|still owes",
    "standard": "standard|the standard|standards|whats the standard|what is the standard|standard of",
    "same": (
        "same standard|the same standard|do we see the same|do we see it the same|do we see alike|do we agree"
    ),
    "figures": "figures|the figures|in figures|same standard figures|same standard in figures",
    "look": (
        "second look|a second look|second look from|second look by|second look of|second look with|"
        "second look at"
    ),
    "together": "calibrate|calibrate with|judge together|judge together with",
    "later": "later|retest later",
    "start": "start|open|begin|start class|start the class|start lesson|start the lesson",
    "click": "click|clicks|click track|a click track|click for|metronome",
    "lasts": "how long|how long is|how long are|how long does|how long do|length of|the length of",
    "picture": (
        "picture|the picture|picture of|a picture of|class picture|picture of the class|grid|the grid|class grid|"
        "progress|progress of|show the class|show me the class"
    ),
}
MUSIC: Final = {        # what may stand behind a number of it
    "eights": "eights|eight|counts of eight|counts of 8|count of eight|count of 8|8s",
    "beats": "beats|beat|counts|count",
    "seconds": "s|sec|secs|second|seconds",
    "minutes": "min|mins|minute|minutes",
    "tempo": "bpm|beats a minute|beats per minute",
    "times": "times|times through|x|times over",
    "count in": "eights count in|eight count in|eights countin|counts of eight count in",
}
ONCE: Final = {         # … and what says its number itself
    ("times", 1): "once|once through|one time",
    ("times", 2): "twice|twice through|two times|two times through",
    ("count in", 0): "no count in|without count in|without a count in|no countin|without countin",
    ("count in", 1): "count in|with count in|with a count in|countin|with countin",
}
TEMPO_AT: Final = "at|tempo|tempo of|a tempo of|at a tempo of|at tempo"     # a number of beats a minute follows
COUNT_IN: Final = "count in|count in of|countin|countin of"                 # a number of counts of eight follows
LINE: Final = {
    "all": "all|all of them|the lot",
    "everyone": "everyone|everybody",
    "none": "none yet|none seen|nobody yet|nobody seen|no one yet",
    "nobody": "none|nobody|no one|none of them",
    "rest": "the rest|rest|the others|others|all the others|everyone else|everybody else",
}
SMALL_PARTS: Final[dict[Kind, str]] = {
    "but": "but|except|bar|except for|apart from",
    "not": "not",
    "loose": "bent|bends|bending",      # beside a point it says no more than that it was missed
    "filler": (
        "and|&|+|the|is|are|was|were|has|have|with|on|in|for|please|pls|a|an|today|now|then|too|also|number|nr|"
        "thanks|thank you|thx|cheers|hi|hello|hey|what does|what do"
    ),
}
SIDES: Final = {
    "left": "left|l|left side|on the left|lefts",
    "right": "right|r|right side|on the right|rights",
    "both": "both|both sides|left and right|right and left|each side",
}
ORDINALS: Final = {1: ("one", "first", "1st"), 2: ("two", "second", "2nd"), 3: ("three", "third", "3rd")}
UNITS: Final = {"day": 1, "days": 1, "d": 1, "week": 7, "weeks": 7, "w": 7, "wk": 7, "wks": 7}
COUNTS: Final = {
    "a": 1, "an": 1, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8,
    "nine": 9, "ten": 10, "twelve": 12,
}
SPANS: Final = {"next week": 7, "week": 7, "a fortnight": 14, "fortnight": 14, "tomorrow": 1}
MOST_DAYS: Final = 366

# Words that help a label to be a sentence and can't say which point is meant.
SMALL: Final = frozenset({
    "the", "to", "over", "of", "on", "in", "and", "a", "an", "at", "by", "from", "for", "into",
    "onto", "with", "no", "not", "is", "are", "be", "or", "through", "than", "as", "it", "its",
    "their", "her", "his", "out", "up", "down", "off", "then",
})
NEVER_A_GROUP: Final = frozenset({
    "all", "none", "everyone", "everybody", "not", "but", "no", "yes", "undo", "join", "add", "owed",
})


NAMES_FOLLOW: Final = 1     # `ava seen but not gus`: of a verdict that is said of those after it only


@cache
def own_tree() -> Node:
    """Every phrase of our own: the same for everybody."""
    return Node.of((words, item) for phrase, item in _phrases() for words in _spelled(phrase))


@cache
def own_words() -> frozenset[str]:
    """The words of these phrases."""
    return frozenset(word for phrase, _ in _phrases() for words in _spelled(phrase) for word in words)


def _spelled(phrase: str) -> Iterator[Spelled]:
    words = tuple(phrase.split())
    yield words
    # `notyet`, `carryon`; never a two-letter word out of two words, which would hide a name.
    if len(words) == 2 and len(phrase) > 5:
        yield ("".join(words),)


def _phrases() -> Iterator[tuple[str, Item]]:
    tables: tuple[tuple[Kind, Mapping[str, str]], ...] = (
        ("verdict", VERDICTS), ("note", NOTES), ("say", SAYS), ("ask", ASKS), ("side", SIDES), ("all", LINE),
    )
    for kind, table in tables:
        for word, phrases in table.items():
            for phrase in phrases.split("|"):
                yield phrase, Item(kind, word)
    for small, phrases in SMALL_PARTS.items():
        for phrase in phrases.split("|"):
            yield phrase, Item(small)
    for phrase in ("ok", "okay"):       # `ok, all seen`
        yield phrase, Item("filler", "ok")
    yield "but not", Item("verdict", "not yet", number=NAMES_FOLLOW)
    yield from _shows()
    for phrase, days in SPANS.items():
        yield phrase, Item("days", number=days)


def _shows() -> Iterator[tuple[str, Item]]:
    for number in range(1, 10):
        item = Item("show", number=number)
        cardinal, *ordinals = ORDINALS.get(number, (str(number),))
        yield f"show {number}", item
        yield f"show{number}", item
        yield f"show {cardinal}", item
        for ordinal in ordinals:
            yield f"{ordinal} show", item
            yield f"{ordinal} go", item
