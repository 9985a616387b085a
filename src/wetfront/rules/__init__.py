"""Rule books as data: limits with source, clause and provenance, and a project's own figures laid over them."""

from wetfront.rules.book import book, book_names, books, in_force, rule, rule_names, search
from wetfront.rules.merge import Applied, stricter_of
from wetfront.rules.model import Cell, Rule, RuleBook

__all__ = [
    "Applied",
    "Cell",
    "Rule",
    "RuleBook",
    "book",
    "book_names",
    "books",
    "in_force",
    "rule",
    "rule_names",
    "search",
    "stricter_of",
]
