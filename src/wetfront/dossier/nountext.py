"""What the nouns say of themselves: the docstrings of classes and of their fields, for the exported schema."""

import ast
import inspect
import itertools


def doc_of(noun: type) -> str:
    """The docstring of a class on one line."""
    return " ".join((inspect.getdoc(noun) or "").split())


def docs_of_fields(noun: type) -> dict[str, str]:
    """Field name to the docstring that follows it in the source."""
    tree = ast.parse(inspect.getsource(noun).strip())
    body = tree.body[0].body if isinstance(tree.body[0], ast.ClassDef) else []
    texts = {}
    for field, text in itertools.pairwise(body):
        if (
            isinstance(field, ast.AnnAssign)
            and isinstance(field.target, ast.Name)
            and isinstance(text, ast.Expr)
            and isinstance(text.value, ast.Constant)
            and isinstance(text.value.value, str)
        ):
            texts[field.target.id] = " ".join(text.value.value.split())
    return texts
