"""Values that nobody should type and somebody will, put in place of every input of a calculation."""

import json
import math
import tomllib
from functools import cache
from pathlib import Path

from wetfront.calculations import calculation
from wetfront.errors import InvalidInput

HOSTILE = (
    *(math.nan, math.inf, -math.inf, 1e308, -1e308, 5e-324, 1e-300, -0.0, 0, -1, 10**400, -(10**400)),
    *(True, False, None, "3", "", "\ud800", [], {}, [[]], [math.nan], ["a"], [True] * 6, [1e308] * 6),
)


@cache
def good_inputs(name: str) -> dict:
    """The inputs of the first shared case of a calculation that has an answer."""
    files = [Path(__file__).parent / "reference" / f"{topic}.toml" for topic in ("planning", "curing")]
    cases = [case for file in files for case in tomllib.loads(file.read_text(encoding="utf-8"))["case"]]
    return next(case["inputs"] for case in cases if case["calculation"] == name and "expected" in case)


def check_hostile_inputs(name: str, may_blame: dict[str, str] | None = None) -> None:
    """Each hostile value gives an error that names the key, or a finite answer that is valid JSON.

    `may_blame`: key that is put wrong -> other key that the error may name, where two keys contradict each other.
    """
    contract = calculation(name)
    good = good_inputs(name)
    for key in contract.inputs:
        for value in HOSTILE:
            try:
                answer = contract.ask({**good, key.key: value}).as_json()
            except InvalidInput as error:
                assert error.key in {key.key, (may_blame or {}).get(key.key)}, (key.key, value, error.message)
            else:
                json.dumps(answer, allow_nan=False)
