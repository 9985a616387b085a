"""What a delivery ticket must carry."""

from collections.abc import Collection
from typing import get_args

from wetfront.errors import InvalidInput
from wetfront.nouns.load import TicketEntry
from wetfront.nouns.reason import Provenance, Source

TICKET = Source("EN 206:2013+A2:2021, 7.3", Provenance.PUBLISHED)
DESIGNED = Source("EN 206:2013+A2:2021, 7.3, further entries for designed concrete", Provenance.MEMORY)
ENTRIES: tuple[TicketEntry, ...] = get_args(TicketEntry)
AFTER_DISCHARGE: frozenset[TicketEntry] = frozenset({"unloading-start", "unloading-end"})
OF_DESIGNED: frozenset[TicketEntry] = frozenset(
    {"strength-class", "exposure-classes", "chloride-class", "consistence", "maximum-aggregate-size"}
)


def missing_entries(
    present: Collection[str], *, certified: bool = False, designed_concrete: bool = True, discharged: bool = False
) -> tuple[TicketEntry, ...]:
    """Entries that a ticket lacks, in alphabetical order.

    Before discharge all but the two unloading times; the certification body only where production is certified; five
    more for designed concrete. InvalidInput names an unknown entry as `present_fields`. Source: TICKET, DESIGNED.
    """
    unknown = sorted(set(present) - set(ENTRIES))
    if unknown:
        raise InvalidInput(
            "present_fields", f"present_fields holds {', '.join(unknown)}; allowed are {', '.join(ENTRIES)}"
        )
    needed = set(ENTRIES)
    if not discharged:
        needed -= AFTER_DISCHARGE
    if not designed_concrete:
        needed -= OF_DESIGNED
    if not certified:
        needed.discard("certification-body")
    return tuple(sorted(needed - set(present)))
