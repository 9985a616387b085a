"""JSON Schema (draft 2020-12) of the sheets, made from the same nouns that the reader checks against."""

import datetime as dt
import enum
from typing import Any

from wetfront.intake.declared import table_of
from wetfront.intake.kinds import (
    LARGEST_NUMBER,
    REQUIRED,
    ChoiceKind,
    DateKind,
    Field,
    FlagKind,
    FreeKind,
    Kind,
    ListKind,
    MomentKind,
    NamedKind,
    NumberKind,
    OneOfKind,
    RowKind,
    TableKind,
    TextKind,
    TimeKind,
    unit_of,
)
from wetfront.intake.meanings import field_meanings, noun_meaning
from wetfront.intake.site_mixer_tree import REPLACED
from wetfront.nouns.sheet import PourSheet
from wetfront.quantities import suffix_of

DRAFT = "https://json-schema.org/draft/2020-12/schema"
TITLE = "wetfront pour sheet, schema 1"
_TEXT_WITH_UNIT = r"^\s*[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?\s*\S.*$"
_TIME = r"^([01]\d|2[0-3]):[0-5]\d(:[0-5]\d(\.\d+)?)?$"


def pour_sheet_schema() -> dict[str, Any]:
    """The whole schema. A sheet that names a `site` file may leave out what stands there."""
    definitions: dict[str, Any] = {}
    top = _table(table_of(PourSheet), definitions)
    needed = [key for key in top.pop("required") if key != "schema"]
    name = {"type": "string", "minLength": 1, "maxLength": 200}
    top["properties"] = {
        "schema": top["properties"].pop("schema"),
        "site": {**name, "description": "A TOML file beside the sheet: its tables count where the sheet has none."},
        "elements_file": {**name, "description": "A CSV or XLSX list of elements beside the sheet."},
        **top["properties"],
    }
    without_list = [key for key in needed if key not in ("element", *REPLACED)]
    definitions["Pour"]["required"].remove("pump")
    listed = {"required": ["elements_file"]}
    return {
        "$schema": DRAFT,
        "title": TITLE,
        **top,
        "required": ["schema"],
        "if": {"required": ["site"]},
        "else": {
            "required": without_list,
            "allOf": [
                {"anyOf": [{"required": ["element"]}, listed]},
                {"anyOf": [{"required": [*REPLACED]}, {"required": ["site_mixer"]}]},
            ],
        },
        "$defs": dict(sorted(definitions.items())),
    }


def sheet_schema(noun: type, title: str) -> dict[str, Any]:
    """The schema of a sheet that is one file: what its noun and the tables inside it say."""
    definitions: dict[str, Any] = {}
    top = _table(table_of(noun), definitions)
    return {"$schema": DRAFT, "title": title, **top, "$defs": dict(sorted(definitions.items()))}


def _table(kind: TableKind, definitions: dict[str, Any]) -> dict[str, Any]:
    meanings = field_meanings(kind.noun)
    properties = {key: _described(key, entry, meanings.get(key, ""), definitions) for key, entry in kind.fields.items()}
    needed = [key for key, entry in kind.fields.items() if entry.default is REQUIRED]
    schema: dict[str, Any] = {"type": "object", "description": noun_meaning(kind.noun), "properties": properties}
    if needed:
        schema["required"] = needed
    return {**schema, "additionalProperties": False}


def _described(key: str, entry: Field, meaning: str, definitions: dict[str, Any]) -> dict[str, Any]:
    schema = _schema(entry.kind, definitions)
    unit = unit_of(key)
    words = " ".join(part for part in (meaning, f"Unit: {unit}." if unit else "") if part)
    if words:
        schema["description"] = words
    default = _plain(entry.default)
    if default is not None:
        schema["default"] = default
    return schema


def _plain(default: object) -> Any:
    if default is REQUIRED or default is None or default == ():
        return None
    if isinstance(default, tuple):
        return list(default)
    if isinstance(default, dt.date | dt.time):
        return default.isoformat()
    return default if isinstance(default, bool | int | float | str) and not isinstance(default, enum.Enum) else None


def _schema(kind: Kind, definitions: dict[str, Any]) -> dict[str, Any]:
    match kind:
        case NumberKind():
            return _number(kind)
        case TextKind():
            return {"type": "string", "minLength": kind.shortest, "maxLength": kind.longest}
        case ChoiceKind():
            return {"enum": list(kind.options)}
        case FlagKind():
            return {"type": "boolean"}
        case DateKind():
            return {"type": "string", "pattern": r"^20\d\d-\d\d-\d\d$"}
        case TimeKind():
            return {"type": "string", "pattern": _TIME}
        case MomentKind():
            return {"type": "string", "format": "date-time"}
        case ListKind():
            each = _schema(kind.each, definitions)
            return {"type": "array", "items": each, "minItems": kind.least, "maxItems": kind.most}
        case RowKind():
            rows = [_schema(entry, definitions) for entry in kind.each]
            return {"type": "array", "prefixItems": rows, "minItems": len(rows), "maxItems": len(rows)}
        case NamedKind():
            names = {"minLength": 1, "maxLength": 60}
            each = _schema(kind.each, definitions)
            return {"type": "object", "propertyNames": names, "additionalProperties": each, "minProperties": 1}
        case TableKind():
            return _reference(kind, definitions)
        case FreeKind():
            return {"type": "object"}
        case OneOfKind():
            options = [_reference(option, definitions) for option in kind.options.values()]
            return {"type": "object", "required": [kind.tag], "oneOf": options}


def _reference(kind: TableKind, definitions: dict[str, Any]) -> dict[str, Any]:
    name = kind.noun.__name__
    if name not in definitions:
        definitions[name] = {}
        definitions[name] = _table(kind, definitions)
    return {"$ref": f"#/$defs/{name}"}


def _number(kind: NumberKind) -> dict[str, Any]:
    bounds = {
        "minimum": kind.low,
        "exclusiveMinimum": kind.above,
        "maximum": kind.high,
        "exclusiveMaximum": kind.below,
    }
    given = {key: bound for key, bound in bounds.items() if bound is not None}
    if kind.low is None and kind.above is None:
        given["minimum"] = -LARGEST_NUMBER
    if kind.high is None and kind.below is None:
        given["maximum"] = LARGEST_NUMBER
    number = {"type": "integer" if kind.whole else "number", **given}
    if suffix_of(kind.unit_key) is None:
        return number
    text = {"type": "string", "pattern": _TEXT_WITH_UNIT, "maxLength": 40}
    return {"anyOf": [number, text]}
