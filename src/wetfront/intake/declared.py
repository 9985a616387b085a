"""The tables of a sheet as the nouns declare them: a field's annotation gives kind and range, its name the unit."""

import dataclasses
import datetime as dt
import types
from collections.abc import Mapping
from functools import cache
from typing import Annotated, Any, Literal, Union, get_args, get_origin, get_type_hints

from annotated_types import Ge, Gt, Le, Len, Lt, MaxLen, MinLen

from wetfront.intake.kinds import (
    MOST_ENTRIES,
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

_WITHOUT_BOUNDS: Mapping[Any, Kind] = {
    bool: FlagKind(),
    dt.datetime: MomentKind(),
    dt.date: DateKind(),
    dt.time: TimeKind(),
}


@cache
def table_of(noun: type, unit_key: str = "") -> TableKind:
    """The table that a dataclass describes. `unit_key` lends its unit to keys that have none of their own."""
    hints = get_type_hints(noun, include_extras=True)
    fields = {}
    for entry in dataclasses.fields(noun):
        key = entry.name if unit_of(entry.name) or not unit_key else unit_key
        missing = entry.default is dataclasses.MISSING and entry.default_factory is dataclasses.MISSING
        default = REQUIRED if missing else None if entry.default is dataclasses.MISSING else entry.default
        fields[entry.name] = Field(kind=_kind_of(hints[entry.name], key), default=default)
    return TableKind(noun=noun, fields=fields)


def _kind_of(hint: Any, key: str) -> Kind:
    limits: tuple[Any, ...] = ()
    if get_origin(hint) is Annotated:
        hint, *rest = get_args(hint)
        limits = tuple(rest)
    origin, arguments = get_origin(hint), get_args(hint)
    if origin in (Union, types.UnionType):
        options = [option for option in arguments if option is not type(None)]
        if len(options) == 1:
            return _kind_of(options[0], key)
        tables = [table_of(option) for option in options]
        words = [get_args(get_type_hints(table.noun)["shape"])[0] for table in tables]
        return OneOfKind(tag="shape", options=dict(zip(words, tables, strict=True)))
    if origin is Literal:
        return ChoiceKind(options=arguments)
    if origin is tuple and len(arguments) == 2 and arguments[1] is Ellipsis:
        least, most = _length(limits, 0, MOST_ENTRIES)
        return ListKind(each=_kind_of(arguments[0], key), least=least, most=most)
    if origin is tuple:
        return RowKind(each=tuple(_kind_of(argument, key) for argument in arguments))
    if origin is Mapping:
        return FreeKind()
    if origin is dict:
        return NamedKind(each=_kind_of(arguments[1], key))
    if hint in (int, float):
        return _number(limits, key, whole=hint is int)
    if hint is str:
        shortest, longest = _length(limits, 0, 2000)
        return TextKind(shortest=shortest, longest=longest)
    if hint in _WITHOUT_BOUNDS:
        return _WITHOUT_BOUNDS[hint]
    if dataclasses.is_dataclass(hint) and isinstance(hint, type):
        return table_of(hint, key if unit_of(key) else "")
    raise TypeError(f"no kind for {hint!r} of {key}")


def _length(limits: tuple[Any, ...], least: int, most: int) -> tuple[int, int]:
    for limit in limits:
        if isinstance(limit, MinLen | Len):
            least = limit.min_length
        if isinstance(limit, MaxLen | Len):
            most = limit.max_length if limit.max_length is not None else most
    return least, most


def _number(limits: tuple[Any, ...], key: str, *, whole: bool) -> NumberKind:
    bounds: dict[str, Any] = {}
    for limit in limits:
        match limit:
            case Gt():
                bounds["above"] = limit.gt
            case Ge():
                bounds["low"] = limit.ge
            case Lt():
                bounds["below"] = limit.lt
            case Le():
                bounds["high"] = limit.le
    return NumberKind(unit_key=key, whole=whole, **bounds)
