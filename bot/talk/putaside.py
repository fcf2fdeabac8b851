"""What is said where a fault of ours kept something from being done, and it was put aside.

What lives here: two sentences. When they are said is the store's to know: it counts the tries.
"""
from __future__ import annotations

MESSAGE = (
    "Sorry, that went wrong here three times, and the fault is ours. Nothing of it is recorded. "
    "Whoever looks after this at your club can see it. Please say it another way, or note it on paper and go on."
)
REMINDER = (
    "Sorry, a reminder for you went wrong here, and the fault is ours. "
    "Type resting to see who rests, or owed to see what is owed."
)
