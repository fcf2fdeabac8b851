"""One file for each change of the tables, never edited once it was released."""
