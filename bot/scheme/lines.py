"""Where in a TOML file each key stands, since the parser does not say.

What lives here: a scanner that walks text which `tomllib` has already accepted, so it need not judge it. It
knows strings, arrays, inline tables and the two kinds of headers; everything else runs to the next stop.
"""
from __future__ import annotations

import re
from collections.abc import Mapping

Path = tuple[str | int, ...]
"""The way to a value: keys, and positions in arrays from 0, as in `("award", 0, "skill", 2, "name")`."""

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_STRING = re.compile(
    r'"""(?:\\.|[^\\])*?"{3,5}' r"|'''.*?'{3,5}" r'|"(?:\\.|[^"\\\n])*"' r"|'[^'\n]*'", re.DOTALL,
)
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_SCALAR = re.compile(r"[^,\]}#\n]*")
_ESCAPE = re.compile(r"\\(u[0-9a-fA-F]{4}|U[0-9a-fA-F]{8}|.)")


def lines_of(text: str) -> dict[Path, int]:
    """The line (from 1) of every table, key and array item in a file that is good TOML."""
    scanner = _Scanner(text)
    scanner.document()
    return scanner.lines


def line_at(lines: Mapping[Path, int], path: Path) -> int:
    """The line of a path, or of the nearest thing around it; 1 where nothing is known."""
    for end in range(len(path), 0, -1):
        if path[:end] in lines:
            return lines[path[:end]]
    return 1


class _Scanner:
    """A place in the text, and the lines found so far."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.lines: dict[Path, int] = {}
        self.counts: dict[Path, int] = {}       # how many tables each [[array]] has by now
        self.counted = (0, 1)                   # an offset and its line, so that counting goes on from there

    def document(self) -> None:
        """Read headers and keys to the end."""
        table: Path = ()
        self.blank()
        while self.at < len(self.text):
            if self.text[self.at] == "[":
                table = self.header()
            else:
                self.pair(table)
            self.blank()

    def header(self) -> Path:
        """`[a.b]` or `[[a.b]]`: the path of the table that it opens."""
        line = self.line()
        double = self.text.startswith("[[", self.at)
        self.at += 2 if double else 1
        path: Path = ()
        keys = self.keys()
        for key in keys[:-1]:
            path = self.inside((*path, key))
        path = (*path, keys[-1])
        self.at = self.text.index("]", self.at) + (2 if double else 1)
        self.lines.setdefault(path, line)
        if double:
            index = self.counts.get(path, 0)
            self.counts[path] = index + 1
            path = (*path, index)
            self.lines[path] = line
        return path

    def inside(self, path: Path) -> Path:
        """A path that names an array of tables means its last one."""
        return (*path, self.counts[path] - 1) if path in self.counts else path

    def pair(self, table: Path) -> None:
        """`key = value`, the key perhaps dotted."""
        line = self.line()
        path = table
        for key in self.keys():
            path = (*path, key)
            self.lines.setdefault(path, line)
        self.at = self.text.index("=", self.at) + 1
        self.blank()
        self.value(path)

    def keys(self) -> list[str]:
        """`a.b."c d"`, up to what follows it."""
        keys: list[str] = []
        while True:
            self.blank()
            quoted = _STRING.match(self.text, self.at)
            match = quoted or _BARE.match(self.text, self.at)
            if match is None:       # cannot be in good TOML; rather an empty key than a crash
                return keys or [""]
            self.at = match.end()
            keys.append(_unquoted(match.group()) if quoted else match.group())
            self.blank()
            if not self.text.startswith(".", self.at):
                return keys
            self.at += 1

    def value(self, path: Path) -> None:
        """A value of any kind, and all that is in it."""
        self.lines.setdefault(path, self.line())
        opening = self.text[self.at : self.at + 1]
        string = _STRING.match(self.text, self.at)
        if string is not None:
            self.at = string.end()
        elif opening == "[":
            self.items(path)
        elif opening == "{":
            self.inline(path)
        else:
            match = _SCALAR.match(self.text, self.at)
            self.at = match.end() if match else len(self.text)

    def items(self, path: Path) -> None:
        """`[a, b, …]`, over as many lines as it likes."""
        index = 0
        while not self.closes("]"):
            self.value((*path, index))
            index += 1

    def inline(self, path: Path) -> None:
        """`{a = 1, b = 2}`."""
        while not self.closes("}"):
            self.pair(path)

    def closes(self, bracket: str) -> bool:
        """Step over an opening bracket or a comma; True once the closing one is passed."""
        self.blank()
        if self.text.startswith(("[", "{", ","), self.at):
            self.at += 1
            self.blank()
        if self.text.startswith(bracket, self.at):
            self.at += 1
            return True
        return self.at >= len(self.text)

    def blank(self) -> None:
        """Pass over white space and comments."""
        match = _BLANK.match(self.text, self.at)
        self.at = match.end() if match else self.at

    def line(self) -> int:
        """The line that we are on."""
        offset, line = self.counted
        line += self.text.count("\n", offset, self.at)
        self.counted = (self.at, line)
        return line


def _unquoted(text: str) -> str:
    """What a quoted key says."""
    if text.startswith("'"):
        return text[1:-1]
    return _ESCAPE.sub(lambda found: _unescaped(found.group(1)), text[1:-1])


def _unescaped(code: str) -> str:
    return chr(int(code[1:], 16)) if code[0] in "uU" else code
