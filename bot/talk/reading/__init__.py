"""Reading text: from what was typed to what it asks for. `read` is the whole of it.

`fold` (of `bot/fold.py`) makes spellings equal, `tokens` parts a text, `lexer` finds phrases in the tree that a
`Vocabulary` grows, `chart` follows every reading, `bag` and `settle` say what words may join and what
they then ask for, `outcome` decides between readings. Pure: the same text in the same moment reads alike.
"""
from bot.talk.reading.context import Context
from bot.talk.reading.fold import fold
from bot.talk.reading.reader import read
from bot.talk.reading.vocabulary import Vocabulary

__all__ = ["Context", "Vocabulary", "fold", "read"]
