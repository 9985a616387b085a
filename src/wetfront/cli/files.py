"""Writing files so that they are there whole or not at all, in a folder that is known to take them."""

import os
import signal
import tempfile
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from types import FrameType

from wetfront.errors import WetfrontError


class CannotWrite(WetfrontError):
    """A folder or file that may not be written; the message names it."""

    code = "cannot-write"


@contextmanager
def writable(out: Path) -> Iterator[None]:
    """The folder is there and can be written, known before the long work; gone again if nothing came of it."""
    fresh = [folder for folder in (out, *out.parents) if not folder.exists()]
    try:
        try:
            out.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryFile(dir=out):
                pass
        except OSError as error:
            raise CannotWrite(
                f"{out} cannot be written: {error.strerror or error}; choose another with --out"
            ) from None
        yield
    finally:
        for folder in fresh:
            with suppress(OSError):
                folder.rmdir()


@contextmanager
def undisturbed() -> Iterator[None]:
    """Ctrl-C waits until all files are written, so that no folder holds pages of one plan and figures of another."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    pressed: list[int] = []

    def remember(number: int, _: FrameType | None) -> None:
        pressed.append(number)

    before = signal.signal(signal.SIGINT, remember)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
    if pressed:
        raise KeyboardInterrupt


def write_together(out: Path, contents: Mapping[str, bytes]) -> list[str]:
    """Write the files of one answer into its folder, Ctrl-C or not; their paths, to be shown. Raises CannotWrite."""
    with undisturbed():
        for name, data in contents.items():
            write_atomically(out / name, data)
    return [str(out / name) for name in contents]


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
