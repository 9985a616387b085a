"""plan.json and the other written documents, for programs, and the JSON Schema that each keeps.

Same plan, same bytes: keys in the order of the nouns, moments as ISO 8601 with offset to the second, figures to six
significant digits (the inputs are not better), shares of probability the same. A figure that is not finite is an error,
never a null. Pairs of the nouns become small objects with named keys.
"""

import datetime as dt
import hashlib
import json
import math
import types
import typing
from dataclasses import fields, is_dataclass
from enum import Enum
from typing import Any

from wetfront.dossier.nountext import doc_of, docs_of_fields
from wetfront.dossier.words import later
from wetfront.nouns.batch import BATCH_SCHEMA, SiteBatch
from wetfront.nouns.delivery_day import TICKETS_SCHEMA, DeliveryReport
from wetfront.nouns.mix_design import MIX_SCHEMA, MixDesign
from wetfront.nouns.plan import PLAN_SCHEMA, Plan
from wetfront.nouns.programme import PROGRAMME_SCHEMA, Programme

SIGNIFICANT_DIGITS = 6

PAIRS: dict[tuple[str, str], tuple[str, str]] = {
    ("Change", "risk_changes"): ("risk", "change"),
    ("HourlySeries", "lines"): ("name", "values"),
    ("HourlySeries", "limits"): ("name", "value"),
    ("Plan", "inputs"): ("file", "sha256"),
    ("LeftOut", "days"): ("day", "reason"),
    ("Programme", "inputs"): ("file", "sha256"),
    ("SiteBatch", "inputs"): ("file", "sha256"),
    ("DeliveryReport", "inputs"): ("file", "sha256"),
    ("SamplingCheck", "taken"): ("sample", "ticket_number"),
    ("MixDesign", "inputs"): ("file", "sha256"),
}
"""Fields that hold pairs, and what the two are called."""


def plan_document(plan: Plan) -> dict[str, Any]:
    """The plan as plain JSON values."""
    return typing.cast(dict[str, Any], _value(plan))


def plan_json(plan: Plan) -> str:
    """plan.json as text, ending in a line break."""
    return json.dumps(plan_document(plan), ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def revision(plan: Plan) -> str:
    """Eight hex digits that name this very plan: the beginning of the SHA-256 of its plan.json."""
    return hashlib.sha256(plan_json(plan).encode()).hexdigest()[:8]


def rounded(value: float) -> float:
    """To six significant digits; ValueError where the figure is not finite."""
    if not math.isfinite(value):
        raise ValueError(f"a plan holds {value}, which is no figure")
    return float(f"{value:.{SIGNIFICANT_DIGITS}g}") + 0.0


def plain_value(noun: Any) -> Any:
    """A noun as plain JSON values, by the same rules as the plan."""
    return _value(noun)


def _value(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: _field(value, field.name) for field in fields(value)}
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, dt.datetime):
        return later(value, dt.timedelta(microseconds=500_000)).isoformat(timespec="seconds")
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, bool | int | str | None):
        return value
    if isinstance(value, float):
        return rounded(value)
    if isinstance(value, tuple | list):
        return [_value(each) for each in value]
    if hasattr(value, "item"):
        return _value(value.item())
    raise TypeError(f"{type(value).__name__} has no place in plan.json")


def _field(owner: Any, name: str) -> Any:
    value = getattr(owner, name)
    names = PAIRS.get((type(owner).__name__, name))
    if names is None:
        return _value(value)
    return [{names[0]: _value(first), names[1]: _value(second)} for first, second in value]


def plan_schema() -> dict[str, Any]:
    """JSON Schema of plan.json."""
    return document_schema(Plan, PLAN_SCHEMA, "Plan of one concrete pour (plan.json)")


def programme_schema() -> dict[str, Any]:
    """JSON Schema of programme.json."""
    return document_schema(Programme, PROGRAMME_SCHEMA, "Programme of several pours (programme.json)")


def batch_schema() -> dict[str, Any]:
    """JSON Schema of batch.json."""
    return document_schema(SiteBatch, BATCH_SCHEMA, "One batch of a site mixer (batch.json)")


def tickets_schema() -> dict[str, Any]:
    """JSON Schema of tickets.json."""
    return document_schema(DeliveryReport, TICKETS_SCHEMA, "What delivery tickets say (tickets.json)")


def mix_schema() -> dict[str, Any]:
    """JSON Schema of mix.json."""
    return document_schema(MixDesign, MIX_SCHEMA, "Design of a concrete mix (mix.json)")


def document_schema(noun: type, version: int, title: str) -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a written document, made from its nouns and their docstrings."""
    definitions: dict[str, Any] = {}
    _class_schema(noun, definitions)
    top = definitions.pop(noun.__name__)
    top["properties"]["schema"] = {"const": version, "description": "Version of this format."}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": title,
        **top,
        "$defs": dict(sorted(definitions.items())),
    }


def _class_schema(noun: type, definitions: dict[str, Any]) -> dict[str, Any]:
    if noun.__name__ not in definitions:
        definitions[noun.__name__] = {}
        hints, texts = typing.get_type_hints(noun), docs_of_fields(noun)
        properties = {}
        for field in fields(noun):
            names = PAIRS.get((noun.__name__, field.name))
            made = (
                _pair_schema(hints[field.name], names, definitions)
                if names
                else _type_schema(hints[field.name], definitions)
            )
            properties[field.name] = made | ({"description": texts[field.name]} if field.name in texts else {})
        definitions[noun.__name__] = {
            "description": doc_of(noun),
            "type": "object",
            "properties": properties,
            "required": list(properties),
            "additionalProperties": False,
        }
    return {"$ref": f"#/$defs/{noun.__name__}"}


def _pair_schema(hint: Any, names: tuple[str, str], definitions: dict[str, Any]) -> dict[str, Any]:
    first, second = typing.get_args(typing.get_args(hint)[0])
    properties = {names[0]: _type_schema(first, definitions), names[1]: _type_schema(second, definitions)}
    item = {"type": "object", "properties": properties, "required": list(names), "additionalProperties": False}
    return {"type": "array", "items": item}


SIMPLE: dict[Any, dict[str, Any]] = {
    str: {"type": "string"},
    bool: {"type": "boolean"},
    int: {"type": "integer"},
    float: {"type": "number"},
    type(None): {"type": "null"},
    dt.datetime: {"type": "string", "format": "date-time"},
    dt.date: {"type": "string", "format": "date"},
}


def _type_schema(hint: Any, definitions: dict[str, Any]) -> dict[str, Any]:
    if hint in SIMPLE:
        return dict(SIMPLE[hint])
    if isinstance(hint, type) and issubclass(hint, Enum):
        return {"enum": [each.value for each in hint]}
    if is_dataclass(hint) and isinstance(hint, type):
        return _class_schema(hint, definitions)
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if origin is typing.Literal:
        return {"enum": list(arguments)}
    if origin in (typing.Union, types.UnionType):
        return {"anyOf": [_type_schema(each, definitions) for each in arguments]}
    if origin is tuple and arguments[-1] is Ellipsis:
        return {"type": "array", "items": _type_schema(arguments[0], definitions)}
    if origin is tuple:
        items = [_type_schema(each, definitions) for each in arguments]
        return {"type": "array", "prefixItems": items, "minItems": len(items), "maxItems": len(items)}
    raise TypeError(f"no JSON Schema for {hint}")
