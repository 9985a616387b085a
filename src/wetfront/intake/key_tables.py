"""The keys of a sheet as Markdown tables, such as docs/pour-sheet-keys.md."""

from typing import Any

from wetfront.intake.declared import table_of
from wetfront.intake.kinds import REQUIRED, Field, ListKind, NamedKind, OneOfKind, TableKind
from wetfront.intake.meanings import field_meanings, noun_meaning

MARK = "<!-- written by `wetfront schema --keys`; change the nouns, not this page -->"


def key_tables(noun: type, sheet: str) -> str:
    """The page's text: one section a table of the sheet, in the order in which the sheet names them."""
    lines = [MARK, "", f"# Keys of the {sheet}", ""]
    lines += ["`[name]` is one table, `[[name]]` one of several, `[name.NAME]` one under a name of your own.", ""]
    for heading, kind in _sections(table_of(noun), ""):
        lines += [f"## {heading}", "", noun_meaning(kind.noun), ""]
        lines += ["| key | allowed | if left out | meaning |", "|---|---|---|---|"]
        meanings = field_meanings(kind.noun)
        lines += [_row(key, entry, meanings.get(key, "")) for key, entry in kind.fields.items()]
        lines.append("")
    return "\n".join(lines)


def _sections(kind: TableKind, path: str) -> list[tuple[str, TableKind]]:
    """(heading, table) of a table and of those inside it, each once."""
    heading = path or "At the top of the sheet"
    found = [(heading, kind)]
    for key, entry in kind.fields.items():
        inside, several, name = _inner(entry.kind)
        below = f"{path.strip('[]')}.{key}{name}" if path else f"{key}{name}"
        marked = f"[[{below}]]" if several else f"[{below}]"
        for table in inside:
            if len(inside) == 1:
                found += _sections(table, marked)
            else:
                words = " ".join(str(option) for option in getattr(table.fields["shape"].kind, "options", ()))
                inner = _sections(table, marked)
                found += [(f'{marked} with shape = "{words}"', table), *inner[1:]]
    return _each_once(found)


def _inner(kind: Any) -> tuple[list[TableKind], bool, str]:
    match kind:
        case ListKind():
            return _inner(kind.each)[0], True, ""
        case NamedKind():
            return _inner(kind.each)[0], False, ".NAME"
        case OneOfKind():
            return list(kind.options.values()), False, ""
        case TableKind():
            return [kind], False, ""
    return [], False, ""


def _each_once(sections: list[tuple[str, TableKind]]) -> list[tuple[str, TableKind]]:
    seen: dict[Any, tuple[str, TableKind]] = {}
    for heading, kind in sections:
        seen.setdefault(kind.noun, (heading, kind))
    return list(seen.values())


def _row(key: str, entry: Field, meaning: str) -> str:
    tables, several, _ = _inner(entry.kind)
    allowed = entry.kind.allowed if not tables else "tables, see below" if several else "a table, see below"
    cells = (f"`{key}`", allowed, _default(entry), meaning)
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


def _default(entry: Field) -> str:
    match entry.default:
        case default if default is REQUIRED:
            return "must be given"
        case None | () | "":
            return "nothing"
        case bool() as flag:
            return "true" if flag else "false"
        case tuple() as several:
            return ", ".join(str(one) for one in several)
        case float() as number:
            return f"{number:g}"
    return str(entry.default) if isinstance(entry.default, int | str) else "its defaults"
