"""Requests that do not come as they should: too slowly, broken off, or not as HTTP. Each still gets its answer."""

import asyncio
import json
import time
from typing import Any

import h11
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from uvicorn.protocols.http.h11_impl import H11Protocol

from wetfront.api.problems import MEDIA_TYPE, NOTHING_KEPT, problem

LONGEST_PAUSE_S = 20.0
"""Own rule: a body of which nothing comes for so long is given up; a phone then sends it again."""
LONGEST_BODY_S = 600.0
"""Own rule: a photo of 10 MB comes in it at 17 kB/s."""
_GONE: Message = {"type": "http.disconnect"}


class BodiesInTime:
    """Answers 408 to a body that does not come, so that it holds no connection open."""

    def __init__(self, app: ASGIApp):
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request. Once its body is whole, nothing is timed: a stream may stay open all day."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        body = _Body(receive, send)
        try:
            await self._app(scope, body.receive, body.send)
        except Exception:
            if not body.broken:
                raise
        if body.late and not body.answered:
            answer = problem(408, "The body came too slowly", f"Its rest did not come. {NOTHING_KEPT}")
            answer.headers["connection"] = "close"
            await answer(scope, receive, send)


class _Body:
    """One request's body, and whether it came whole. The application sees a late one as a device that has gone."""

    def __init__(self, receive: Receive, send: Send):
        self._receive, self._send = receive, send
        self._until = time.monotonic() + LONGEST_BODY_S
        self.whole, self.broken, self.late, self.answered = False, False, False, False

    async def receive(self) -> Message:
        if self.whole or self.late:
            return _GONE if self.late else await self._receive()
        try:
            async with asyncio.timeout(min(LONGEST_PAUSE_S, self._until - time.monotonic())):
                message = await self._receive()
        except TimeoutError:
            self.late = self.broken = True
            return _GONE
        self.broken = message["type"] != "http.request"
        self.whole = self.broken or not message.get("more_body", False)
        return message

    async def send(self, message: Message) -> None:
        if self.late and not self.answered:
            return  # what the application says to a device that has gone
        self.answered = True
        await self._send(message)


class Protocol(H11Protocol):
    """The server's own answers, to what never becomes a request, in the shape of all others."""

    def send_400_response(self, msg: str) -> None:
        """Say what is wrong, and hang up."""
        body = {"type": "about:blank", "title": "The request cannot be read", "status": 400, "detail": msg}
        content = json.dumps(body).encode()
        headers = [
            ("content-type", MEDIA_TYPE),
            ("content-length", f"{len(content)}"),
            ("x-content-type-options", "nosniff"),
            ("connection", "close"),
        ]
        parts: list[Any] = [h11.Response(status_code=400, headers=headers, reason="Bad Request")]
        parts += [h11.Data(data=content), h11.EndOfMessage()]
        for part in parts:
            self.transport.write(self.conn.send(part))
        self.transport.close()

    def eof_received(self) -> None:
        """Whoever ends the sending in the middle of a body may still be reading: tell that nothing was kept of it."""
        if self.conn.their_state is h11.SEND_BODY and self.conn.our_state is h11.SEND_RESPONSE:
            self.cycle.disconnected = True
            self.cycle.message_event.set()
            self.send_400_response(f"The body ended before the length that was announced. {NOTHING_KEPT}")
