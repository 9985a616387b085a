"""What the rule book, the sheet and the project's people together leave in force: every limit, and whose it is."""

from dataclasses import dataclass

from wetfront.errors import InvalidInput
from wetfront.nouns.sheet import PourSheet
from wetfront.planning.book_limits import own_figures
from wetfront.rules import InForce, all_held, book, terms_of


@dataclass(frozen=True, slots=True, kw_only=True)
class RulesInForce:
    """Every limit as it holds for one project."""

    project: str
    book: str
    book_title: str
    limits: tuple[InForce, ...]

    @property
    def changed(self) -> tuple[InForce, ...]:
        """What the project changed in the book, or wants to."""
        return tuple(each for each in self.limits if each.applied.changed)

    @property
    def awaits_tick(self) -> tuple[InForce, ...]:
        """What holds by memory alone: nobody has looked it up."""
        return tuple(each for each in self.limits if each.applied.rests_on_memory)

    @property
    def awaits_name(self) -> tuple[InForce, ...]:
        """Looser figures of the project that nobody has approved: the book's limit holds instead."""
        return tuple(each for each in self.limits if each.applied.needs_approval)


def rules_in_force(sheet: PourSheet) -> RulesInForce:
    """What is in force for the sheet's project. InvalidInput where the sheet names no rule book."""
    terms = terms_of(sheet.specification)
    if terms is None:
        raise InvalidInput(
            "specification.rule_book",
            "the sheet names no rule book: only its own limits hold (specification.rule_book)",
        )
    return RulesInForce(
        project=sheet.project.name,
        book=terms.book,
        book_title=book(terms.book).title,
        limits=all_held(terms, own_figures(sheet, terms)),
    )
