"""`sprung check`: is all well with the program on this machine, and if not, what would do.

What lives here: `gather.py` looks at everything and changes nothing, `judge.py` says what it amounts to, and `facts.py`
is what goes from one to the other. No line of it names a child.
"""
