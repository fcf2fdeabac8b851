"""Everything that drives the house or is driven by it: the console, scripts, the clock, the command line.

The rule of this room: an adapter is handed a store and never makes one. Of all that lives here only
`cli.py`, where real things are chosen, imports `storage`; nothing here decides anything about a child.
"""
