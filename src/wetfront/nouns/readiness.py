"""The check list before a pour: one row an item, as it stands when the plan is made."""

import datetime as dt
from dataclasses import dataclass
from typing import Annotated, Literal

from annotated_types import Len

Text = Annotated[str, Len(0, 400)]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadinessItem:
    """What was to be checked, what would be accepted, what was found. Words and numbers stand as they were written."""

    item_id: Annotated[str, Len(1, 60)]
    group: Annotated[str, Len(1, 60)]
    item: Annotated[str, Len(1, 400)]
    acceptance: Text = ""
    measured: Text = ""
    unit: Text = ""
    result: Literal["pass", "fail", "open", "action"]
    """`action`: passes only with the action named in the note."""
    checked_by_role: Text = ""
    checked_local: dt.datetime | None = None
    """With offset; None where nobody has looked yet."""
    note: Text = ""
