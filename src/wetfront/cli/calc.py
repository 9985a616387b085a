"""`wetfront calc`: one JSON object in, one out."""

import argparse
import json
import sys
from pathlib import Path
from typing import Any

from wetfront.calculations import calculation, names
from wetfront.calculations.contract import REQUIRED, Calculation
from wetfront.errors import InvalidInput

MOST_BYTES = 8_000_000
"""One question never needs more; a larger input is refused unread."""


def run(arguments: argparse.Namespace) -> int:
    """Dispatch the forms of `calc`."""
    if arguments.list:
        return _list()
    if arguments.batch:
        return _batch(arguments.input)
    if arguments.name is None:
        print("wetfront calc: name a calculation, or use --list or --batch", file=sys.stderr)
        return 2
    if arguments.explain:
        return _explain(arguments.name)
    return _one(arguments.name, arguments.input)


def _list() -> int:
    for name in names():
        print(f"{name:<34}{calculation(name).title}")
    return 0


def _explain(name: str) -> int:
    try:
        print(explanation(calculation(name)))
    except InvalidInput as error:
        _say(_error(error))
        return 2
    return 0


def explanation(contract: Calculation) -> str:
    """Method, source and keys of one calculation as plain text."""
    lines = [f"{contract.name}: {contract.title}", "", contract.method, ""]
    lines += [f"Source: {contract.source.citation} ({contract.source.provenance})", "", "Inputs:"]
    for key in contract.inputs:
        default = (
            "" if key.default is REQUIRED else " (optional)" if key.default is None else f" (default {key.default})"
        )
        lines.append(f"  {key.key:<40}{key.meaning}; {key.allowed}{default}")
    lines += ["", "Results:"]
    lines += [
        f"  {output.key:<40}{output.meaning}{f' [{output.unit}]' if output.unit else ''}" for output in contract.outputs
    ]
    return "\n".join(lines)


def _error(error: InvalidInput) -> dict[str, Any]:
    return {"error": {"input": error.key, "message": error.message}}


def _say(answer: dict[str, Any]) -> None:
    """One line of UTF-8 whatever the terminal's encoding; a lone surrogate goes out as its JSON escape."""
    line = json.dumps(answer, ensure_ascii=False) + "\n"
    sys.stdout.buffer.write(line.encode("utf-8", "backslashreplace"))


def _answered(name: object, inputs: object) -> tuple[dict[str, Any], bool]:
    try:
        if not isinstance(name, str):
            raise InvalidInput("calculation", "the name of the calculation is missing")
        return calculation(name).ask(inputs).as_json(), True
    except InvalidInput as error:
        return _error(error), False


def _parsed(text: str) -> object:
    try:
        return json.loads(text)
    except (ValueError, RecursionError) as error:
        raise InvalidInput("inputs", f"not valid JSON: {error}") from None


def _read(file: str | None) -> str:
    try:
        if file is None:
            data = sys.stdin.buffer.read(MOST_BYTES + 1)
        else:
            with Path(file).open("rb") as stream:
                data = stream.read(MOST_BYTES + 1)
        if len(data) > MOST_BYTES:
            raise InvalidInput("inputs", f"more than {MOST_BYTES} bytes")
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InvalidInput("inputs", f"not text in UTF-8: byte 0x{data[error.start]:02x} at {error.start}") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise InvalidInput("inputs", f"{file or 'standard input'} cannot be read: {reason}") from None


def _one(name: str, file: str | None) -> int:
    try:
        calculation(name)
        inputs = _parsed(_read(file))
    except InvalidInput as error:
        answer, good = _error(error), False
    else:
        answer, good = _answered(name, inputs)
    _say(answer)
    return 0 if good else 2


def _batch(file: str | None) -> int:
    """Answer each line; an error stays in its own line and does not stop the rest."""
    try:
        lines = _read(file).splitlines()
    except InvalidInput as error:
        _say(_error(error))
        return 2
    all_good = True
    for line in lines:
        if not line.strip():
            continue
        try:
            question = _parsed(line)
            if not isinstance(question, dict):
                raise InvalidInput("inputs", "a line is not one JSON object")
            answer, good = _answered(question.get("calculation"), question.get("inputs", {}))
        except InvalidInput as error:
            answer, good = _error(error), False
        all_good = all_good and good
        _say(answer)
    return 0 if all_good else 2
