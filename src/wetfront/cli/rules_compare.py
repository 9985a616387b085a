"""`wetfront rules --compare EN,IS [NAME]`: rule books beside each other, and whose limit is the stricter."""

import textwrap
from collections.abc import Sequence
from typing import Any

from wetfront.cli.rules_columns import WIDTH, beside
from wetfront.rules import Compared, RuleBook, book, compared

LONGEST_NAME = 36
ROOM = 40
"""At least so much for a limit; with more books the lines grow wider."""


def comparison(names: str, rule_name: str | None) -> tuple[str, dict[str, Any]]:
    """Text and data. InvalidInput for fewer than two books, an unknown one, or a rule that none of them has."""
    chosen = [book(name.strip()) for name in names.split(",") if name.strip()]
    found = compared(chosen, rule_name)
    told = _text(chosen, found) if rule_name is None else _one_rule(chosen, rule_name, found)
    return told, {
        "compared": [one.name for one in chosen],
        "rules": [_as_json(chosen, each) for each in found],
    }


def _one_rule(chosen: Sequence[RuleBook], name: str, found: Sequence[Compared]) -> str:
    """The rule in full, a column a book, and below whose limit is the stricter."""
    having = [one for one in chosen if name in one.rules]
    silent = [one.name for one in chosen if name not in one.rules]
    lines = [f"{name}: {found[0].title}", "", *beside([one.rules[name] for one in having])]
    names = [one.name for one in chosen]
    verdicts = dict.fromkeys((f"{each.row}: " if each.row else "") + _told(names, each) for each in found)
    if len(having) > 1:
        lines += ["", *textwrap.wrap("; ".join(verdicts), WIDTH, initial_indent="stricter: ", subsequent_indent="  ")]
    if silent:
        lines += ["", f"no such rule in: {', '.join(silent)}"]
    return "\n".join(lines)


def _told(names: Sequence[str], each: Compared) -> str:
    return {
        "counted otherwise": "cannot be told, they count between other moments",
        "other rows": "cannot be told, their tables go by other things or steps",
        "not in all": "not in all",
    }.get(each.standing, _verdict(names, each))


def _as_json(chosen: Sequence[RuleBook], each: Compared) -> dict[str, Any]:
    return {
        "rule": each.rule,
        "title": each.title,
        "unit": each.unit,
        "row": each.row or None,
        "limits": [
            {
                "book": one.name,
                "has_rule": each.rule in one.rules,
                "least": None if limit is None else limit[0],
                "most": None if limit is None else limit[1],
                "rests_on_memory": each.rule in one.rules and one.rules[each.rule].rests_on_memory,
                "source": one.rules[each.rule].citation if each.rule in one.rules else None,
            }
            for one, limit in zip(chosen, each.limits, strict=True)
        ],
        "standing": each.standing,
        "stricter": [chosen[place].name for place in each.stricter],
    }


def _text(chosen: Sequence[RuleBook], found: Sequence[Compared]) -> str:
    names = [one.name for one in chosen]
    shared = [each for each in found if each.standing != "not in all"]
    missing = [each for each in found if each.standing == "not in all"]
    width = max(ROOM // len(names) + 12, (WIDTH - LONGEST_NAME - 24) // len(names))
    lines = [_line("", [*names, "stricter"], width)] if shared else []
    before = ""
    for each in shared:
        if each.row and each.rule != before:
            lines.append(f"{each.rule}: {each.title}")
        before = each.rule
        label = f"  {each.row}" if each.row else each.rule
        lines += _wrapped(label, [*each.words, _verdict(names, each)], width)
    lines += _not_in_all(chosen, missing)
    counts = {word: sum(each.standing == word for each in found) for word in ("differs", "same")}
    lines += ["", f"{len(found)} limits: {counts['differs']} differ, {counts['same']} are the same."]
    marks = _remembered(chosen, shared)
    return "\n".join([*lines, *marks]).strip("\n")


def _verdict(names: Sequence[str], each: Compared) -> str:
    if each.standing != "differs":
        return each.standing
    return ", ".join(names[place] for place in each.stricter) or "neither on both sides"


def _not_in_all(chosen: Sequence[RuleBook], missing: Sequence[Compared]) -> list[str]:
    lines: list[str] = []
    for place, one in enumerate(chosen):
        rules = {each.rule for each in missing if each.limits[place] is not None and each.row == ""}
        whole = list(dict.fromkeys(each.rule for each in missing if each.rule in rules))
        rows = [f"{each.rule} {each.row}" for each in missing if each.row and each.limits[place] is not None]
        lone = [name for name in dict.fromkeys(each.rule for each in missing if each.row) if _lone(chosen, one, name)]
        listed = [*whole, *lone, *(text for text in rows if text.split(" ", 1)[0] not in lone)]
        if listed:
            lines += [
                "",
                *textwrap.wrap(f"in {one.name}, not in all: {', '.join(listed)}", WIDTH, subsequent_indent="  "),
            ]
    return lines


def _lone(chosen: Sequence[RuleBook], one: RuleBook, name: str) -> bool:
    """True where this book has the table and another has none at all."""
    return name in one.rules and any(name not in other.rules for other in chosen)


def _remembered(chosen: Sequence[RuleBook], shared: Sequence[Compared]) -> list[str]:
    found = dict.fromkeys(
        f"{one.name} {each.rule}"
        for each in shared
        for one in chosen
        if each.rule in one.rules and one.rules[each.rule].rests_on_memory
    )
    return _names(f"FROM MEMORY, check the standard: {', '.join(found)}") if found else []


def _names(text: str) -> list[str]:
    """Wrapped so that the name of a rule stays in one piece."""
    return textwrap.wrap(text, WIDTH, subsequent_indent="  ", break_on_hyphens=False)


def _line(label: str, parts: Sequence[str], width: int) -> str:
    return (f"{label:<{LONGEST_NAME}}" + "".join(f"{part:<{width}}" for part in parts)).rstrip()


def _wrapped(label: str, parts: Sequence[str], width: int) -> list[str]:
    cells = [textwrap.wrap(part, width - 2) or [""] for part in parts]
    heads = textwrap.wrap(
        label, LONGEST_NAME - 2, subsequent_indent="    ", initial_indent="  " * label.startswith(" ")
    )
    height = max(len(heads), *(len(cell) for cell in cells))
    return [
        _line(
            heads[number] if number < len(heads) else "",
            [cell[number] if number < len(cell) else "" for cell in cells],
            width,
        )
        for number in range(height)
    ]
