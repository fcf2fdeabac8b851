"""The job itself, pure: what an award asks, what marks amount to, the lesson, the talk.

Nothing in here reads a clock, a file, a database, the network or chance; a test walks the imports.
"""
