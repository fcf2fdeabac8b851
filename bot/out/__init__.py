"""What leaves the house, as plain data or text: the export, tables, a whole club, one child in words, who saw what,
calendars, what goes on paper.

What may not be here: what is said in the talk; drawing, and files.
"""
