"""What the nouns say about their fields: the text under a field in its source, for schema and documentation."""

import ast
import inspect
import textwrap
from functools import cache


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
    tree = ast.parse(textwrap.dedent(_source_of(noun))).body[0]
    assert isinstance(tree, ast.ClassDef)
    found = {}
    for entry, below in zip(tree.body, tree.body[1:], strict=False):
        if not isinstance(entry, ast.AnnAssign) or not isinstance(entry.target, ast.Name):
            continue
        if isinstance(below, ast.Expr) and isinstance(below.value, ast.Constant) and isinstance(below.value.value, str):
            found[entry.target.id] = " ".join(below.value.value.split())
    return found


def _source_of(noun: type) -> str:
    module = inspect.getmodule(noun)
    assert module is not None
    text = inspect.getsource(module)
    for entry in ast.parse(text).body:
        if isinstance(entry, ast.ClassDef) and entry.name == noun.__name__:
            return ast.get_source_segment(text, entry) or ""
    raise TypeError(f"no source for {noun.__name__}")
