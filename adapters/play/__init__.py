"""Conversation scripts: reading them, playing them on a store, and comparing what comes back."""
