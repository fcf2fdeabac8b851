"""The console: a phone, or several side by side, in a terminal or a plain pipe."""
