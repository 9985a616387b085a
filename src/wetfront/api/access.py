"""Who may ask: whoever has the access code of the site. Only the app's own files and the health line are open."""

import hmac
import os
import secrets
import time
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from fastapi import Request
from fastapi.responses import JSONResponse

from wetfront.api.problems import problem
from wetfront.errors import InvalidInput

CODE_FILE = "wetfront-access-code"
LETTERS = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"
"""Without letters that are taken for others on a screen in the sun."""
GROUPS, GROUP = 3, 4
MOST_WRONG, WINDOW_S = 30, 60.0
"""Own rule: so many wrong codes from one address in a minute, then it has to wait."""
MOST_ADDRESSES = 10_000
OPEN = ("/api/health",)


class Access:
    """The code, and how often each address had it wrong."""

    def __init__(self, code: str, clock: Callable[[], float] = time.monotonic):
        self.code = code
        self._clock = clock
        self._wrong: dict[str, deque[float]] = {}

    def refusal(self, request: Request) -> JSONResponse | None:
        """The answer to somebody who may not; None for one who may."""
        if not needs_code(request.url.path):
            return None
        who = request.client.host if request.client is not None else ""
        now = self._clock()
        wrong = self._wrong.get(who)
        while wrong and now - wrong[0] > WINDOW_S:
            wrong.popleft()
        if wrong and len(wrong) >= MOST_WRONG:
            answer = problem(429, "Too many wrong access codes", f"wait {WINDOW_S:.0f} s, then try the right one")
            answer.headers["retry-after"] = f"{WINDOW_S:.0f}"
            return answer
        scheme, _, given = request.headers.get("authorization", "").partition(" ")
        if scheme.casefold() == "bearer" and hmac.compare_digest(plain(given).encode(), plain(self.code).encode()):
            self._wrong.pop(who, None)
            return None
        if given:
            if len(self._wrong) >= MOST_ADDRESSES:
                self._wrong.clear()
            self._wrong.setdefault(who, deque()).append(now)
        answer = problem(401, "The access code is missing or wrong", "send it as Authorization: Bearer CODE")
        answer.headers["www-authenticate"] = "Bearer"
        return answer


def needs_code(path: str) -> bool:
    """Everything under /api but the health line."""
    return path.startswith("/api") and path not in OPEN


def plain(code: str) -> str:
    """A code as it is compared: small letters, spaces and dashes count for nothing."""
    return "".join(each for each in code.upper() if each.isalnum())


def new_code() -> str:
    """A code of 12 letters and figures, about 59 bits, in groups that can be read out."""
    return "-".join("".join(secrets.choice(LETTERS) for _ in range(GROUP)) for _ in range(GROUPS))


def kept_code(folder: Path) -> str:
    """The folder's code, made on first use and readable by its owner alone. InvalidInput where it cannot be kept."""
    path = folder / CODE_FILE
    try:
        with suppress(FileNotFoundError):
            code = path.read_text(encoding="utf-8").strip()
            if len(plain(code)) >= 8:
                return code
            raise InvalidInput("access_code", f"{path} holds no code of at least 8 letters: put one in, or delete it")
        code = new_code()
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "w", encoding="utf-8") as stream:
            stream.write(code + "\n")
    except (OSError, UnicodeDecodeError) as error:
        raise InvalidInput("access_code", f"{path} cannot be read or written: {error}") from None
    return code
