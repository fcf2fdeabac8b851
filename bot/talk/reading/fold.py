"""Folding as the reader uses it. What it does is in `bot/fold.py`, the one folding of the house."""
from bot.fold import atoms, bare, fold

__all__ = ["atoms", "bare", "fold"]
