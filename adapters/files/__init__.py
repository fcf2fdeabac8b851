"""Files that go with messages: pictures, sounds, documents. A message holds a recipe; a file is made when fetched.

`bot/attached.py` has the recipes, `kinds.py` the one table of how each is made and who may have it, `fetch.py` the way
from the secret of a message to a file. Which form goes where, or the words in its place, `fit` in `adapters/channel.py`
says by what a channel carries. A file is there for two days, for as long as its person may see what is in it.
"""
