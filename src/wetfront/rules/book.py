"""Loading the packaged rule books, and asking them."""

import tomllib
from difflib import get_close_matches
from functools import cache
from importlib.resources import files

from wetfront.errors import InvalidInput, Problem, SheetError
from wetfront.rules.check import checked_book
from wetfront.rules.model import Rule, RuleBook

_BOOKS = ("en", "aci", "is", "as", "nz", "practice")
PRACTICE = "practice"
"""The book of what no standard's book settles: common site practice and our own cautious figures."""


def parsed(text: str, file: str) -> RuleBook:
    """A rule book from the text of a TOML file; SheetError lists every mistake with file and key."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SheetError([Problem(file, "", str(error), "a TOML file")]) from None
    return checked_book(data, file)


def book_names() -> tuple[str, ...]:
    """The packaged books."""
    return _BOOKS


@cache
def book(name: str) -> RuleBook:
    """One packaged book, checked on loading. InvalidInput for a name that is not among them."""
    if name not in _BOOKS:
        raise InvalidInput("book", f"no rule book is called {name!r}; known: {', '.join(_BOOKS)}")
    path = files("wetfront.rules").joinpath("rulebooks", f"{name}.toml")
    return parsed(path.read_text(encoding="utf-8"), f"{name}.toml")


def books() -> tuple[RuleBook, ...]:
    """All packaged books."""
    return tuple(book(name) for name in _BOOKS)


def rule_names() -> tuple[str, ...]:
    """The names of all rules over all books, in the order in which the books first give them."""
    return tuple(dict.fromkeys(name for each in books() for name in each.rules))


def _known(name: str) -> None:
    if name not in rule_names():
        near = get_close_matches(name, rule_names(), n=1, cutoff=0.5)
        hint = f"; did you mean {near[0]}?" if near else ""
        raise InvalidInput("rule", f"no rule is called {name!r}{hint}")


def rule(book_name: str, name: str) -> Rule:
    """One rule of one book. InvalidInput where no book, or not this one, has it."""
    found = book(book_name).rules.get(name)
    if found is None:
        _known(name)
        having = ", ".join(each.name for each in books() if name in each.rules)
        raise InvalidInput("rule", f"the book {book_name} has no rule {name}; it stands in: {having}")
    return found


def in_force(book_name: str, name: str) -> Rule | None:
    """The book's own rule, else the figure of common practice (its `book` tells which), else None: nobody gives one."""
    own = book(book_name).rules.get(name)
    if own is not None:
        return own
    _known(name)
    return book(PRACTICE).rules.get(name)


def in_force_rules(book_name: str) -> dict[str, Rule]:
    """Every rule that the book answers with: its own, and common practice where it has none."""
    return {**book(PRACTICE).rules, **book(book_name).rules}


def search(words: str) -> tuple[Rule, ...]:
    """The rules in which every word stands, in name, title, source, note or rows, whatever the case."""
    wanted = words.lower().split()
    return tuple(
        each for one in books() for each in one.rules.values() if all(word in _text_of(each) for word in wanted)
    )


def _text_of(each: Rule) -> str:
    parts = (
        each.book,
        each.name,
        each.title,
        each.citation,
        each.standing,
        each.limit,
        each.by,
        each.counts_from,
        each.counts_to,
        each.note,
    )
    return " ".join(parts).lower()
