"""What was judged and what it amounts to: marks, standings, awards earned, retests."""
