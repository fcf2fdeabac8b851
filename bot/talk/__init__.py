"""The dialogue: reading text, the places of a talk, the phrases, one module for each kind of moment."""
