"""What is going on, on standard error: one line that renews itself on a terminal, a line now and then elsewhere."""

import time
from collections.abc import Callable
from types import TracebackType
from typing import TextIO

QUIET_S = 1.0
"""Work that is over sooner says nothing."""
RENEW_S = 0.1
LINE_EVERY_S = 10.0


class Progress:
    """Use with `with`; the line is wiped at the end. Reads a clock only to be quiet."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self._terminal = stream.isatty()
        self._begun = time.monotonic()
        self._last = self._begun + QUIET_S - LINE_EVERY_S
        self._shown = 0

    def __enter__(self) -> "Progress":
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        if self._shown:
            self._stream.write("\r" + " " * self._shown + "\r")
            self._stream.flush()

    def of(self, name: str) -> Callable[[int, int, str], None]:
        """What a search calls to say how far it is with `name`."""

        def report(done: int, planned: int, what: str) -> None:
            self.say(f"{name}: {100 * done // max(planned, 1)} %, {what}")

        return report

    def say(self, text: str) -> None:
        """Show `text`, unless the work is young or something was shown just now."""
        now = time.monotonic()
        every = RENEW_S if self._terminal else LINE_EVERY_S
        if now - self._begun < QUIET_S or now - self._last < every:
            return
        self._last = now
        text = text[:78]
        if self._terminal:
            self._stream.write("\r" + text.ljust(self._shown))
            self._shown = len(text)
        else:
            self._stream.write(text + "\n")
        self._stream.flush()
