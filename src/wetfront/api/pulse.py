"""What wakes the streams: one look at the journals for all of them, at once after an entry and every second besides."""

import asyncio
from collections.abc import Callable
from contextlib import suppress

LOOK_S = 1.0
"""Another server on the same database may have kept something."""


class Pulse:
    """The number of each pour's last record, and who waits for a change."""

    def __init__(self, numbers: Callable[[], dict[str, int]]):
        self._look = numbers
        self.numbers: dict[str, int] = {}
        self.changes = 0
        """Counts what no number tells, such as the progress of a plan."""
        self.stopping = False
        self._waiting: set[asyncio.Event] = set()
        self._loop: asyncio.AbstractEventLoop | None = None
        self._nudge: asyncio.Event | None = None

    def tell(self) -> None:
        """Something has changed. From any thread."""
        self.changes += 1
        loop, nudge = self._loop, self._nudge
        if loop is not None and nudge is not None:
            with suppress(RuntimeError):  # the loop has been closed
                loop.call_soon_threadsafe(nudge.set)

    async def run(self) -> None:
        """Look until cancelled."""
        self._loop, self._nudge = asyncio.get_running_loop(), asyncio.Event()
        seen = -1
        while True:
            try:
                numbers = await asyncio.to_thread(self._look)
            except Exception:  # the database is away for a moment: streams go on, requests are told
                numbers = self.numbers
            if numbers != self.numbers or seen != self.changes:
                self.numbers, seen = numbers, self.changes
                self._wake()
            with suppress(TimeoutError):
                await asyncio.wait_for(self._nudge.wait(), LOOK_S)
            self._nudge.clear()

    def stop(self) -> None:
        """Let every stream end."""
        self.stopping = True
        self._wake()

    async def wait(self, seconds: float) -> None:
        """Return after the next change, at the latest after so long."""
        mine = asyncio.Event()
        self._waiting.add(mine)
        try:
            with suppress(TimeoutError):
                await asyncio.wait_for(mine.wait(), seconds)
        finally:
            self._waiting.discard(mine)

    def _wake(self) -> None:
        for each in list(self._waiting):
            each.set()
