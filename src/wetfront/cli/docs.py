"""`wetfront docs FOLDER`: one page a calculation, written from its contract and the check cases."""

import argparse
import json
import sys
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from wetfront.calculations import calculation, names
from wetfront.calculations.contract import REQUIRED, Calculation, Number, Numbers, Size
from wetfront.errors import InvalidInput

MARK = "<!-- written by `wetfront docs`; change the contract, not this page -->"
Case = Mapping[str, Any]


def run(arguments: argparse.Namespace) -> int:
    """Write the pages, and nothing where a case file cannot be read or the folder not be written."""
    try:
        pages = method_pages(read_cases(Path(arguments.cases)))
        written = _write(Path(arguments.folder), pages)
    except InvalidInput as error:
        print(f"wetfront docs: {error.key}: {error.message}", file=sys.stderr)
        return 2
    print(f"{len(pages)} pages in {arguments.folder}, {written} of them new or changed")
    return 0


def read_cases(folder: Path) -> list[Case]:
    """All check cases of the topic files in a folder, in the order of the files."""
    files = sorted(folder.glob("*.toml"))
    if not files:
        raise InvalidInput("cases", f"no check cases (*.toml) in {folder}")
    cases: list[Case] = []
    for file in files:
        try:
            cases += tomllib.loads(file.read_text(encoding="utf-8")).get("case", [])
        except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
            raise InvalidInput("cases", f"{file} cannot be read: {error}") from None
    for number, case in enumerate(cases, start=1):
        told = isinstance(case, Mapping) and {"expected", "expect_error"} & set(case)
        if not told or not {"id", "calculation", "inputs"} <= set(case):
            raise InvalidInput("cases", f"case {number} in {folder} lacks id, calculation, inputs or what is expected")
    return cases


def method_pages(cases: Sequence[Case]) -> dict[str, str]:
    """File name -> text of the page, with the index. Same code and cases, same text."""
    contracts = [calculation(name) for name in names()]
    pages = {"README.md": _index(contracts, cases)}
    for contract in contracts:
        pages[f"{contract.name}.md"] = page(contract, [case for case in cases if case["calculation"] == contract.name])
    return pages


def page(contract: Calculation, cases: Sequence[Case]) -> str:
    """The page of one calculation."""
    lines = [MARK, f"# {contract.title}", "", f"`wetfront calc {contract.name}`", "", contract.method, ""]
    lines += [f"**Source:** {contract.source.citation} ({contract.source.provenance})", ""]
    lines += ["## Inputs", "", "| key | meaning | unit | allowed | if left out |", "|---|---|---|---|---|"]
    lines += [
        f"| `{key.key}` | {_cell(key.meaning)} | {_cell(_unit(key))} | {_cell(key.allowed)} | {_default(key.default)} |"
        for key in contract.inputs
    ]
    lines += ["", "## Results", "", "| key | meaning | unit |", "|---|---|---|"]
    lines += [f"| `{one.key}` | {_cell(one.meaning)} | {_cell(_shown_unit(one.unit))} |" for one in contract.outputs]
    lines += ["", "## Check cases", ""]
    lines += _case_lines(contract, cases) if cases else ["None yet."]
    return "\n".join(lines) + "\n"


def _index(contracts: Sequence[Calculation], cases: Sequence[Case]) -> str:
    lines = [MARK, "# Calculations", ""]
    lines += [
        "Each page: method, source, keys with units and ranges, and the check cases with the deviation found.",
        "",
    ]
    lines += ["| calculation | what it answers | source known as | check cases |", "|---|---|---|---|"]
    for contract in contracts:
        count = sum(case["calculation"] == contract.name for case in cases)
        link, known_as = f"[`{contract.name}`]({contract.name}.md)", contract.source.provenance
        lines.append(f"| {link} | {_cell(contract.title)} | {known_as} | {count} |")
    return "\n".join(lines) + "\n"


def _case_lines(contract: Calculation, cases: Sequence[Case]) -> list[str]:
    lines: list[str] = []
    for case in cases:
        lines += [f"### {case['id']}", ""]
        if case.get("source"):
            lines += [f"{case['source']} ({case.get('provenance', 'provenance not noted')}).", ""]
        if case.get("note"):
            lines += [str(case["note"]), ""]
        given = json.dumps(case["inputs"], ensure_ascii=False)
        lines += ["```json", given, "```", ""]
        lines += _refused(contract, case) if "expect_error" in case else _compared(contract, case)
        lines.append("")
    return lines[:-1]


def _refused(contract: Calculation, case: Case) -> list[str]:
    try:
        contract.ask(case["inputs"])
    except InvalidInput as error:
        as_wanted = "as expected" if error.key == case["expect_error"] else f"expected: `{case['expect_error']}`"
        return [f"Refused, {as_wanted}: `{error.key}`: {error.message}"]
    return [f"**Not refused**, though an error of `{case['expect_error']}` is expected."]


def _compared(contract: Calculation, case: Case) -> list[str]:
    try:
        result = contract.ask(case["inputs"]).result
    except InvalidInput as error:
        return [f"**Refused**, though a result is expected: `{error.key}`: {error.message}"]
    lines = ["| key | expected | ours | deviation | tolerance |", "|---|---|---|---|---|"]
    for key, expected in case["expected"].items():
        tolerance = case.get("tolerance", {}).get(key, 0)
        ours = result.get(key)
        deviation = _deviation(ours, expected, tolerance)
        lines.append(f"| `{key}` | {_value(expected)} | {_value(ours)} | {deviation} | {tolerance:g} |")
    return lines


def _deviation(ours: object, expected: object, tolerance: float) -> str:
    """How far ours is from expected; words that differ, and what is beyond the tolerance, stand out."""
    if isinstance(expected, list) and isinstance(ours, list | tuple) and len(ours) == len(expected):
        gaps = [abs(a - b) for a, b in zip(ours, expected, strict=True) if _is_number(a) and _is_number(b)]
        if len(gaps) == len(expected):
            return _gap(max(gaps, default=0.0), tolerance)
    if _is_number(ours) and _is_number(expected):
        return _gap(float(ours) - float(expected), tolerance)  # type: ignore[arg-type]
    return "none" if ours == expected else "**differs**"


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _gap(gap: float, tolerance: float) -> str:
    if abs(gap) > tolerance + 1e-12:
        return f"**{gap:.3g}, beyond the tolerance**"
    return "none" if abs(gap) < 1e-9 else f"{gap:.3g}"


def _value(value: object) -> str:
    if isinstance(value, float):
        return f"{value:.6g}"
    if isinstance(value, list | tuple):
        return ", ".join(_value(one) for one in value)
    if isinstance(value, bool):
        return "true" if value else "false"
    return "left out" if value is None else _cell(str(value))


def _default(default: object) -> str:
    if default is REQUIRED:
        return "required"
    if default is None:
        return "not used"
    return "empty list" if default == () else _value(default)


def _unit(key: object) -> str:
    if isinstance(key, Number | Size):
        return _shown_unit(key.unit)
    return _shown_unit(key.each.unit) if isinstance(key, Numbers) else ""


def _shown_unit(unit: str) -> str:
    return "" if unit == "1" else unit


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("\n", " ")


def _write(folder: Path, pages: Mapping[str, str]) -> int:
    """Write what changed, each page whole or not at all; take away pages of calculations that are gone."""
    written = 0
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in pages.items():
            target = folder / name
            if target.exists() and target.read_text(encoding="utf-8") == text:
                continue
            part = target.with_suffix(".part")
            part.write_text(text, encoding="utf-8", newline="\n")
            part.replace(target)
            written += 1
        for stale in folder.glob("*.md"):
            if stale.name not in pages and stale.read_text(encoding="utf-8").startswith(MARK):
                stale.unlink()
    except (OSError, UnicodeDecodeError) as error:
        raise InvalidInput("folder", f"{folder} cannot be written: {error}") from None
    return written
