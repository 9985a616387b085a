"""Every shared check case at its own tolerance, asked through the contract and again through the command line."""

import json
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest

from wetfront.calculations import calculation, names
from wetfront.errors import InvalidInput

TOPICS = {
    path.stem: tomllib.loads(path.read_text(encoding="utf-8"))
    for path in (Path(__file__).parent / "reference").glob("*.toml")
}
CASES = [case for topic in TOPICS.values() for case in topic.get("case", []) if case["calculation"] in names()]
CONTRACTS = [
    contract for topic in TOPICS.values() for contract in topic.get("calculation", []) if contract["name"] in names()
]

DISPUTED: dict[str, str] = {}
"""Case id -> why the reference is taken to be wrong. The code is not bent to it; the closing note tells it."""


def close(found: Any, expected: Any, tolerance: float) -> bool:
    if isinstance(expected, list):
        return len(found) == len(expected) and all(close(f, e, tolerance) for f, e in zip(found, expected, strict=True))
    if isinstance(expected, bool | str):
        return found == expected and type(found) is type(expected)
    return isinstance(found, int | float) and abs(found - expected) <= tolerance + 1e-12


def check(case: dict[str, Any], answer: dict[str, Any]) -> None:
    if "expect_error" in case:
        assert answer["error"]["input"] == case["expect_error"], answer
        return
    assert "result" in answer, answer
    for key, expected in case["expected"].items():
        tolerance = case.get("tolerance", {}).get(key, 0.0)
        assert key in answer["result"], f"{key} is missing from {answer['result']}"
        assert close(answer["result"][key], expected, tolerance), (
            f"{key}: {answer['result'][key]} against {expected} ± {tolerance}"
        )


def asked(case: dict[str, Any]) -> dict[str, Any]:
    try:
        return calculation(case["calculation"]).ask(case["inputs"]).as_json()
    except InvalidInput as error:
        return {"error": {"input": error.key, "message": error.message}}


@pytest.mark.parametrize("case", [case for case in CASES if case["id"] not in DISPUTED], ids=lambda case: case["id"])
def test_case(case):
    check(case, asked(case))


def test_all_cases_through_the_command_line():
    questions = "\n".join(json.dumps({"calculation": case["calculation"], "inputs": case["inputs"]}) for case in CASES)
    done = subprocess.run(
        [sys.executable, "-m", "wetfront", "calc", "--batch"],
        input=questions,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    answers = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(answers) == len(CASES)
    for case, answer in zip(CASES, answers, strict=True):
        if case["id"] not in DISPUTED:
            check(case, answer)


@pytest.mark.parametrize("contract", CONTRACTS, ids=lambda contract: contract["name"])
def test_keys_are_those_of_the_shared_contract(contract):
    ours = calculation(contract["name"])
    assert {key.key for key in ours.inputs} == set(contract["inputs"])
    assert set(contract["outputs"]) <= {output.key for output in ours.outputs}
    assert ours.title == contract["title"]


@pytest.mark.parametrize("name", names())
def test_every_answer_carries_reasons(name):
    """A right case of each calculation has at least one step, each with a source and a known provenance."""
    case = next(case for case in CASES if case["calculation"] == name and "expected" in case)
    answer = asked(case)
    assert answer["why"]
    for step in answer["why"]:
        assert step["source"]
        assert step["provenance"]
    assert set(answer["result"]) <= {output.key for output in calculation(name).outputs}


def test_no_two_topics_define_the_same_calculation():
    defined = [contract["name"] for contract in CONTRACTS]
    assert len(defined) == len(set(defined))
