"""Schemas and key tables in docs/ are those of the code, and sheets and documents keep them."""

import json
import tomllib
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from wetfront.cli.main import main
from wetfront.cli.schema import formats, pages

ROOT = Path(__file__).parent.parent


@pytest.mark.parametrize("name", pages())
def test_a_page_in_docs_is_that_of_the_code(name):
    written = (ROOT / "docs" / name).read_text(encoding="utf-8")
    assert written == pages()[name], "run: make docs"


@pytest.mark.parametrize("name", formats())
def test_each_format_is_a_right_schema(name):
    Draft202012Validator.check_schema(formats()[name].schema())


def test_the_programme_of_the_example_keeps_its_schema_and_a_wrong_one_does_not():
    text = (ROOT / "examples" / "tarnwick" / "week.toml").read_text(encoding="utf-8")
    tree = json.loads(json.dumps(tomllib.loads(text), default=str))
    validator = Draft202012Validator(formats()["programme-sheet"].schema())
    validator.validate(tree)
    tree["pour"][0]["earlyest"] = "2027-06-15"
    assert not validator.is_valid(tree)


def test_all_pages_are_written_at_once(tmp_path, capsys):
    assert main(["schema", "--all", str(tmp_path)]) == 0
    assert {path.name for path in tmp_path.iterdir()} == set(pages())


@pytest.mark.parametrize(
    ("arguments", "told"), [(["plans"], "known: pour-sheet"), (["plan", "--keys"], "no key tables")]
)
def test_an_unknown_format_and_keys_of_a_document_are_refused_with_what_there_is(arguments, told, capsys):
    assert main(["schema", *arguments]) == 2
    assert told in capsys.readouterr().err
