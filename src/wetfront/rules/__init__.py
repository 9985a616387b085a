"""Rule books as data: limits with source, clause and provenance, and a project's own figures laid over them."""

from wetfront.rules.book import PRACTICE, book, book_names, books, in_force, in_force_rules, rule, rule_names, search
from wetfront.rules.compare import Compared, compared
from wetfront.rules.exposure import Composition, composition, strength_class_name
from wetfront.rules.merge import Applied, stricter_of
from wetfront.rules.model import CHECK_FIRST, Cell, Rule, RuleBook, Value
from wetfront.rules.terms import (
    InForce,
    Terms,
    all_held,
    approver_of_deviations,
    held,
    qualified,
    terms_of,
    with_confirmations,
    with_terms,
)

__all__ = [
    "CHECK_FIRST",
    "PRACTICE",
    "Applied",
    "Cell",
    "Compared",
    "Composition",
    "InForce",
    "Rule",
    "RuleBook",
    "Terms",
    "Value",
    "all_held",
    "approver_of_deviations",
    "book",
    "book_names",
    "books",
    "compared",
    "composition",
    "held",
    "in_force",
    "in_force_rules",
    "qualified",
    "rule",
    "rule_names",
    "search",
    "strength_class_name",
    "stricter_of",
    "terms_of",
    "with_confirmations",
    "with_terms",
]
