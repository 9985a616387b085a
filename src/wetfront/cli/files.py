"""Writing a file so that it is there whole or not at all."""

import os
import tempfile
from contextlib import suppress
from pathlib import Path

from wetfront.errors import WetfrontError


class CannotWrite(WetfrontError):
    """A folder or file that may not be written; the message names it."""

    code = "cannot-write"


def write_atomically(path: Path, data: bytes, *, replace: bool = True) -> None:
    """Write `data` to `path` by way of a file beside it, so that no reader ever sees half of it.

    An error or Ctrl-C leaves what was there before and nothing new. With `replace=False` a file that stands there
    already is kept. Raises CannotWrite.
    """
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.name[:50]}.", suffix=".part", dir=path.parent)
    except (OSError, ValueError) as error:
        raise CannotWrite(f"{path} cannot be written: {_reason(error)}") from None
    beside = Path(name)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        beside.chmod(0o666 & ~_umask())
        if replace:
            beside.replace(path)
        else:
            _link(beside, path)
    except FileExistsError:
        raise CannotWrite(f"{path} is there already; it is left as it is") from None
    except OSError as error:
        raise CannotWrite(f"{path} cannot be written: {_reason(error)}") from None
    finally:
        with suppress(FileNotFoundError):
            beside.unlink()


def _link(beside: Path, path: Path) -> None:
    try:
        path.hardlink_to(beside)
    except FileExistsError:
        raise
    except OSError:  # a file system without hard links
        if path.exists():
            raise FileExistsError from None
        beside.replace(path)


def _reason(error: Exception) -> str:
    return getattr(error, "strerror", None) or str(error)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
