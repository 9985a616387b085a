"""In which line of a TOML text each key stands: positions only, for a text that the real parser has accepted."""

import contextlib
import re

Path = tuple[str | int, ...]

_TOKEN = re.compile(
    r'(?P<string>"""(?:[^"\\]|\\.|"(?!""))*"{3,5}|\'\'\'(?:[^\']|\'(?!\'\'))*\'{3,5}'
    r'|"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\')'
    r"|(?P<comment>#[^\n]*)|(?P<newline>\n\s*)|(?P<space>[ \t\r]+)|(?P<mark>[\[\]{}=,.])|(?P<bare>[^\s\[\]{}=,.#\"']+)",
    re.DOTALL,
)


class _Scanner:
    def __init__(self, text: str):
        self.lines: dict[Path, int] = {}
        self._tables_in: dict[Path, int] = {}
        self._tokens: list[tuple[str, str, int]] = []
        line = 1
        for match in _TOKEN.finditer(text):
            kind, word = match.lastgroup or "", match.group()
            if kind not in ("comment", "space"):
                self._tokens.append((kind, word, line))
            line += word.count("\n")
        self._tokens.append(("end", "", line))
        self._at = 0

    def scan(self) -> None:
        table: Path = ()
        while self._kind != "end":
            if self._kind == "newline":
                self._at += 1
            elif self._word == "[":
                table = self._header()
            else:
                self._entry(table)

    @property
    def _kind(self) -> str:
        return self._tokens[self._at][0]

    @property
    def _word(self) -> str:
        return self._tokens[self._at][1]

    def _note(self, path: Path) -> None:
        for end in range(1, len(path) + 1):
            self.lines.setdefault(path[:end], self._tokens[self._at][2])

    def _header(self) -> Path:
        start = self._at
        brackets = 0
        while self._word == "[":
            brackets, self._at = brackets + 1, self._at + 1
        parts = self._key("]")
        while self._word == "]":
            self._at += 1
        path: Path = ()
        for place, part in enumerate(parts):
            path = (*path, part)
            last = place == len(parts) - 1
            if brackets == 2 and last:
                self._tables_in[path] = self._tables_in.get(path, 0) + 1
            if path in self._tables_in:
                path = (*path, self._tables_in[path] - 1)
        end, self._at = self._at, start
        self._note(path)
        self._at = end
        return path

    def _key(self, until: str) -> list[str]:
        """The parts of a dotted key, up to the mark `until`."""
        parts = []
        while self._word != until and self._kind not in ("end", "newline"):
            if self._kind in ("bare", "string"):
                parts.append(self._word.strip("\"'") if self._kind == "string" else self._word)
            self._at += 1
        return parts

    def _entry(self, table: Path) -> None:
        start = self._at
        path = (*table, *self._key("="))
        end, self._at = self._at, start
        self._note(path)
        self._at = end
        if self._word == "=":
            self._at += 1
            self._value(path)
        else:
            self._at += 1 if self._kind != "end" else 0

    def _value(self, path: Path) -> None:
        if self._word == "[" and self._kind == "mark":
            self._inside("]", path, named=False)
        elif self._word == "{" and self._kind == "mark":
            self._inside("}", path, named=True)
        else:
            while self._kind not in ("newline", "end") and not (self._kind == "mark" and self._word in ",]}"):
                self._at += 1

    def _inside(self, close: str, path: Path, *, named: bool) -> None:
        self._at += 1
        place = 0
        while self._kind != "end":
            if self._kind == "newline" or (self._kind == "mark" and self._word == ","):
                self._at += 1
            elif self._kind == "mark" and self._word == close:
                self._at += 1
                return
            elif named:
                self._entry(path)
            else:
                self._note((*path, place))
                self._value((*path, place))
                place += 1
                if self._kind == "mark" and self._word not in (",", close):
                    self._at += 1


def lines_of_keys(text: str) -> dict[Path, int]:
    """Line of each key path, list entries by their index from 0. What cannot be placed is left out."""
    scanner = _Scanner(text)
    with contextlib.suppress(RecursionError):
        scanner.scan()
    return scanner.lines


def line_of(path: Path, lines: dict[Path, int]) -> int | None:
    """The line of a key, or of the nearest table round it that has one."""
    for end in range(len(path), 0, -1):
        if path[:end] in lines:
            return lines[path[:end]]
    return None
