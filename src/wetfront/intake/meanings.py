"""What the nouns say about their fields: the text under a field in its source, for schema and documentation."""

import ast
import inspect
import sys
from functools import cache
from itertools import pairwise


@cache
def field_meanings(noun: type) -> dict[str, str]:
    """Field name -> the docstring under it, for the fields that have one, those of base classes included."""
    found: dict[str, str] = {}
    for base in reversed(noun.__mro__):
        if base.__module__.startswith("wetfront."):
            found |= _of_class(base)
    return found


def noun_meaning(noun: type) -> str:
    """The first paragraph of a class's docstring, on one line."""
    return " ".join((inspect.getdoc(noun) or "").split("\n\n")[0].split())


def _of_class(noun: type) -> dict[str, str]:
    found = {}
    body = _classes_of(noun.__module__)[noun.__name__].body
    for entry, below in pairwise(body):
        if not isinstance(entry, ast.AnnAssign) or not isinstance(entry.target, ast.Name):
            continue
        if isinstance(below, ast.Expr) and isinstance(below.value, ast.Constant) and isinstance(below.value.value, str):
            found[entry.target.id] = " ".join(below.value.value.split())
    return found


@cache
def _classes_of(module: str) -> dict[str, ast.ClassDef]:
    tree = ast.parse(inspect.getsource(sys.modules[module]))
    return {entry.name: entry for entry in tree.body if isinstance(entry, ast.ClassDef)}
