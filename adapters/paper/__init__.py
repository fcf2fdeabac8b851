"""Paper: what is printed, as PDF. Set by Typst, with fonts from packages: `pip install 'sprung[print]'`.

What lives here: finding fonts and saying which letters none of them has, handing plain data to a template, and the
templates, which are our own. What is to be printed is worked out in `bot/out/printed.py` and `bot/lesson/paper.py`.
Names reach a template as data and never as markup. The same data gives the same bytes.
"""
