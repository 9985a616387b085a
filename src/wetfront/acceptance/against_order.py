"""The ticket against the order: entries, mix, classes, aggregate."""

import re

from wetfront.acceptance.compare import within
from wetfront.acceptance.ticket import TICKET, missing_entries
from wetfront.errors import InvalidInput
from wetfront.nouns.load import Order, Ticket, TicketEntry
from wetfront.nouns.reason import Provenance, Source
from wetfront.nouns.verdict import Finding, LimitInForce, Outcome, Whose

ORDERED = Source("the order", Provenance.INPUT)


def order_findings(order: Order, ticket: Ticket, *, discharged: bool) -> tuple[list[Finding], list[str]]:
    """Compare the ticket with the order, and see that it carries what it must.

    Another mix, class or larger aggregate than ordered is refused. What the ticket does not say is held, unless it
    prints the ordered mix: then the mix stands for its classes.
    """
    findings: list[Finding] = []
    not_judged: list[str] = []
    if ticket.entries is None:
        not_judged.append("entries of the ticket: nobody has said which it carries")
    else:
        findings.append(_entries(ticket, discharged=discharged))
    same_mix = bool(order.mix) and _plain(order.mix) == _plain(ticket.mix)
    if order.mix and ticket.mix:
        findings.append(_compared("mix", order.mix, ticket.mix, same_mix))
    for about, wanted, printed, met in (
        ("strength class", order.strength_class, ticket.strength_class, _same_strength(order, ticket)),
        ("exposure", ", ".join(order.exposure_classes), ", ".join(ticket.exposure_classes), _exposed(order, ticket)),
        ("chloride class", order.chloride_class, ticket.chloride_class, _chloride(order, ticket)),
        ("consistence class", order.consistence_class, ticket.consistence_class, _same_consistence(order, ticket)),
        (
            "largest aggregate",
            _size(order.maximum_aggregate_size_mm),
            _size(ticket.maximum_aggregate_size_mm),
            _aggregate(order, ticket),
        ),
    ):
        if not wanted:
            continue
        if printed:
            findings.append(_compared(about, wanted, printed, met))
        elif not same_mix and about in ("strength class", "exposure"):
            text = f"{about}: ordered {wanted}, the ticket does not say"
            findings.append(
                Finding(
                    about=about,
                    outcome=Outcome.CHECK_TEST,
                    text=text,
                    holds=True,
                    limit=_ordered(about, wanted),
                    next_step="ask the plant what was loaded, in writing",
                )
            )
        else:
            not_judged.append(
                f"{about}: ordered {wanted}, not on the ticket" + (", which prints the mix" if same_mix else "")
            )
    return findings, not_judged


def _entries(ticket: Ticket, *, discharged: bool) -> Finding:
    assert ticket.entries is not None
    present: set[TicketEntry] = {*ticket.entries}
    if ticket.batched is not None:
        present.add("loading-time")
    missing = missing_entries(
        present, certified=ticket.certified, designed_concrete=ticket.designed_concrete, discharged=discharged
    )
    limit = LimitInForce(
        title="Entries of a delivery ticket",
        unit="",
        whose=Whose.RULE_BOOK,
        source=TICKET,
        text=f"every entry of {TICKET.citation}",
    )
    if not missing:
        text = "the ticket is complete"
        return Finding(about="ticket", outcome=Outcome.ACCEPT, text=text, limit=limit)
    text = f"missing on the ticket: {', '.join(missing)}"
    return Finding(
        about="ticket",
        outcome=Outcome.CHECK_TEST,
        text=text,
        limit=limit,
        holds=True,
        next_step="get the missing entries from the plant, in writing",
    )


def _compared(about: str, wanted: str, printed: str, met: bool) -> Finding:
    return Finding(
        about=about,
        outcome=Outcome.ACCEPT if met else Outcome.REFUSE,
        text=f"{about} {printed} on the ticket, ordered {wanted}",
        limit=_ordered(about, wanted),
        next_step="" if met else "not what was ordered: tell the plant before the truck leaves",
    )


def _ordered(about: str, wanted: str) -> LimitInForce:
    return LimitInForce(title=about.capitalize(), unit="", whose=Whose.ORDER, source=ORDERED, text=f"ordered {wanted}")


def _plain(text: str) -> str:
    return re.sub(r"\s+", "", text).casefold()


def _same_strength(order: Order, ticket: Ticket) -> bool:
    return _plain(order.strength_class) == _plain(ticket.strength_class)


def _same_consistence(order: Order, ticket: Ticket) -> bool:
    return _plain(order.consistence_class) == _plain(ticket.consistence_class)


def _exposed(order: Order, ticket: Ticket) -> bool:
    """Every ordered class is on the ticket; more of them do no harm."""
    return {_plain(one) for one in order.exposure_classes} <= {_plain(one) for one in ticket.exposure_classes}


def chloride_percent(name: str) -> float:
    """The number in the name of a chloride class: "Cl 0,20" is 0.2 % of the cement. InvalidInput where it has none."""
    found = re.fullmatch(r"cl(\d+(?:[.,]\d+)?)", _plain(name))
    if found is None:
        raise InvalidInput("chloride_class", f"chloride_class is {name!r}; allowed is a class such as 'Cl 0,20'")
    return float(found[1].replace(",", "."))


def _chloride(order: Order, ticket: Ticket) -> bool:
    if not order.chloride_class or not ticket.chloride_class:
        return False
    return within(chloride_percent(ticket.chloride_class), high=chloride_percent(order.chloride_class))


def _size(size_mm: float | None) -> str:
    return "" if size_mm is None else f"{size_mm:g} mm"


def _aggregate(order: Order, ticket: Ticket) -> bool:
    if order.maximum_aggregate_size_mm is None or ticket.maximum_aggregate_size_mm is None:
        return False
    return within(ticket.maximum_aggregate_size_mm, high=order.maximum_aggregate_size_mm)
