"""Files from outside, read with a limit and refused with a reason."""

import hashlib
from pathlib import Path

from wetfront.errors import Problem, SheetError

MOST_SHEET_BYTES = 1_000_000
MOST_TABLE_BYTES = 20_000_000


def read_bytes(path: Path, name: str, most_bytes: int, what: str) -> bytes:
    """The bytes of a plain file. SheetError names `name` where it cannot be read, or is too large to be read at all."""
    allowed = f"{what} of at most {most_bytes / 1e6:g} MB"
    name = name or str(path)  # "." has no name
    try:
        if not path.exists():
            raise SheetError([Problem(name, "", "no such file", allowed)])
        if not path.is_file():
            raise SheetError([Problem(name, "", "something that is not a plain file", allowed)])
        size = path.stat().st_size
        if size > most_bytes:
            raise SheetError([Problem(name, "", f"{size / 1e6:.1f} MB", allowed)])
        with path.open("rb") as stream:
            data = stream.read(most_bytes + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise SheetError([Problem(name, "", f"a file that cannot be read ({reason})", allowed)]) from None
    if len(data) > most_bytes:
        raise SheetError([Problem(name, "", f"more than {most_bytes / 1e6:g} MB", allowed)])
    return data


def as_text(data: bytes, name: str, what: str) -> str:
    """The bytes as text; SheetError where they are binary or not UTF-8."""
    if b"\0" in data:
        raise SheetError([Problem(name, "", "binary data", f"{what}, plain text in UTF-8")])
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        found = f"a byte that is not UTF-8 (0x{data[error.start]:02x})"
        raise SheetError([Problem(name, "", found, f"{what}, plain text in UTF-8", line)]) from None


def sha256(data: bytes) -> str:
    """The hash that stands in the plan for the file's content."""
    return hashlib.sha256(data).hexdigest()
