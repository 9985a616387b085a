"""What happened on a pour: append-only events, the chain that keeps them, and the fold to the pour's state."""

from wetfront.journal.chain import Record, appended, first_break
from wetfront.journal.event import Event, body_hash, body_of, event_of
from wetfront.journal.fold import fold
from wetfront.journal.kinds import KINDS, fact_of, kind_of, payload_of
from wetfront.journal.state import LoadState, PourState

__all__ = [
    "KINDS",
    "Event",
    "LoadState",
    "PourState",
    "Record",
    "appended",
    "body_hash",
    "body_of",
    "event_of",
    "fact_of",
    "first_break",
    "fold",
    "kind_of",
    "payload_of",
]
