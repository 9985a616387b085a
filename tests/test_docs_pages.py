"""The method pages in docs/ keep in step with the code, and every calculation has one."""

import re
from pathlib import Path

import pytest

from test_rings import RING, SOURCE, WHOLE_PACKAGE, room_of
from wetfront.calculations import calculation, names
from wetfront.cli.docs import MARK, method_pages, page, read_cases
from wetfront.cli.main import main

ROOT = Path(__file__).parent.parent
KEPT = ROOT / "docs" / "calculations"
CASES = read_cases(ROOT / "tests" / "reference")


def written(folder: Path) -> dict[str, str]:
    return {file.name: file.read_text(encoding="utf-8") for file in sorted(folder.glob("*.md"))}


def test_every_calculation_has_a_page():
    assert {file.stem for file in KEPT.glob("*.md")} - {"README"} == set(names()), "run: make docs"


def test_kept_pages_are_what_the_code_writes_now(tmp_path, capsys):
    assert main(["docs", str(tmp_path), "--cases", str(ROOT / "tests" / "reference")]) == 0
    assert "new or changed" in capsys.readouterr().out
    assert written(tmp_path) == written(KEPT), "run: make docs"


def test_writing_again_changes_nothing_and_takes_away_only_stale_pages_of_ours(tmp_path, capsys):
    arguments = ["docs", str(tmp_path), "--cases", str(ROOT / "tests" / "reference")]
    main(arguments)
    before = written(tmp_path)
    (tmp_path / "gone.md").write_text(f"{MARK}\n# A calculation that is no more\n", encoding="utf-8")
    (tmp_path / "notes.md").write_text("# Someone's notes\n", encoding="utf-8")
    capsys.readouterr()
    assert main(arguments) == 0
    assert capsys.readouterr().out.endswith(" 0 of them new or changed\n")
    assert written(tmp_path) == before | {"notes.md": "# Someone's notes\n"}
    assert not list(tmp_path.glob("*.part"))


@pytest.mark.parametrize("name", names())
def test_a_page_shows_the_contract_and_every_case(name):
    contract = calculation(name)
    text = method_pages(CASES)[f"{name}.md"]
    assert contract.method in text
    assert f"{contract.source.citation} ({contract.source.provenance})" in text
    for key in (*contract.inputs, *contract.outputs):
        assert f"| `{key.key}` |" in text
    own = [case["id"] for case in CASES if case["calculation"] == name]
    assert re.findall(r"^### (.+)$", text, re.MULTILINE) == own
    assert own, f"{name} has no check case"


def test_the_index_links_each_page_once():
    index = method_pages(CASES)["README.md"]
    assert re.findall(r"\]\(([a-z0-9-]+)\.md\)", index) == list(names())


def test_a_deviation_beyond_the_tolerance_stands_out():
    contract = calculation("rise-rate")
    case = {
        "id": "planted",
        "calculation": "rise-rate",
        "inputs": {"placing_rate_m3_per_h": 18, "plan_area_m2": 7.2},
        "expected": {"rise_rate_m_per_h": 2.4},
        "tolerance": {"rise_rate_m_per_h": 0.05},
    }
    assert "**0.1, beyond the tolerance**" in page(contract, [case])
    within = case | {"tolerance": {"rise_rate_m_per_h": 0.2}}
    assert "| 2.4 | 2.5 | 0.1 | 0.2 |" in page(contract, [within])


def test_a_case_that_should_be_refused_and_is_not_stands_out():
    contract = calculation("rise-rate")
    good = {"placing_rate_m3_per_h": 18, "plan_area_m2": 7.2}
    planted = {"id": "planted", "calculation": "rise-rate", "inputs": good, "expect_error": "plan_area_m2"}
    assert "**Not refused**" in page(contract, [planted])
    refused = planted | {"inputs": good | {"plan_area_m2": 0}}
    assert "Refused, as expected: `plan_area_m2`" in page(contract, [refused])
    unexpected = {"id": "planted", "calculation": "rise-rate", "inputs": {}, "expected": {"rise_rate_m_per_h": 1}}
    assert "**Refused**, though a result is expected" in page(contract, [unexpected])


def test_the_architecture_page_names_every_room_in_its_ring():
    text = (ROOT / "docs" / "architecture.md").read_text(encoding="utf-8")
    table = {room: int(ring) for ring, room in re.findall(r"^\| (\d) \| `(\w+)` \|", text, re.MULTILINE)}
    standing = {room_of(path) for path in SOURCE.rglob("*.py")} - WHOLE_PACKAGE
    assert standing <= set(table)
    assert table == {room: RING[room] for room in table}


@pytest.mark.parametrize("page_file", ["README.md", "CONTRIBUTING.md", "CHANGELOG.md", "docs/architecture.md"])
def test_links_within_the_project_lead_somewhere(page_file):
    file = ROOT / page_file
    for target in re.findall(r"\]\((?!https?:)([^)#]+)\)", file.read_text(encoding="utf-8")):
        assert (file.parent / target).exists(), target
