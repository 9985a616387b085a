"""Check list and hold points as they stand: the sheet's list with what has been recorded since."""

import datetime as dt
from dataclasses import dataclass

from wetfront.desk.board.basis import Basis
from wetfront.journal.state import PourState
from wetfront.nouns.board import CheckView, HoldView
from wetfront.nouns.readiness import ReadinessItem as Recorded
from wetfront.nouns.sheet import HoldPoint


@dataclass(frozen=True, slots=True)
class Ready:
    """Whether placing may begin or go on."""

    checks: tuple[CheckView, ...]
    holds: tuple[HoldView, ...]
    blocked_by: tuple[str, ...]
    strange: tuple[str, ...]


def ready_of(basis: Basis, state: PourState) -> Ready:
    """Every hold point of the sheet, every other line of its list, and what blocks placing."""
    recorded = {row.item_id: row for row in basis.checked.readiness}
    holds: list[HoldView] = []
    blocked: list[str] = []
    strange: list[str] = []
    for point in basis.sheet.hold_point:
        view = _hold(point, state, recorded.get(point.id), strange)
        holds.append(view)
        if view.state == "open" and point.before == "placing":
            blocked.append(f"{point.id} {point.title}: to be released by {point.released_by}")
    ids = {point.id for point in basis.sheet.hold_point}
    listed = {item.id for item in basis.readiness}
    checks = [
        _check(item.id, item.group, item.check, item.acceptance, state, recorded.get(item.id))
        for item in basis.readiness
        if item.id not in ids
    ]
    checks += [
        _check(name, "added on site", name, "", state, None)
        for name in state.checks
        if name not in ids and name not in listed
    ]
    return Ready(tuple(checks), tuple(holds), tuple(blocked), tuple(strange))


def _hold(point: HoldPoint, state: PourState, row: Recorded | None, strange: list[str]) -> HoldView:
    """A release counts from the role that may give it; one by another role is told and leaves the point open."""
    found = state.holds.get(point.id)
    by, at, why = "", None, ""
    kind = "open"
    if found is not None and found.released is not None:
        if found.released.event.role == point.released_by:
            kind, by, at = "released", found.released.said_by, found.released.at
        else:
            strange.append(
                f"{point.id} was released by {found.released.said_by}; only {point.released_by} may, so it stays open"
            )
    if kind == "open" and row is not None and row.result == "pass" and row.checked_by_role == point.released_by:
        kind, by, at = "released", row.checked_by_role, row.checked_local
    if kind == "open" and found is not None and found.overridden is not None:
        kind, by, at = "overridden", found.overridden.said_by, found.overridden.at
        why = found.overridden.fact.why
    return HoldView(
        id=point.id,
        title=point.title,
        released_by_role=point.released_by,
        state="released" if kind == "released" else "overridden" if kind == "overridden" else "open",
        by=by,
        at=at,
        why=why,
        before_placing=point.before == "placing",
    )


def _check(name: str, group: str, title: str, acceptance: str, state: PourState, row: Recorded | None) -> CheckView:
    entries = state.checks.get(name, ())
    photos = tuple(entry.fact.sha256 for entry in state.photos if entry.fact.about == name)
    if entries:
        last = entries[-1]
        return CheckView(
            item=name,
            group=group,
            title=title,
            acceptance=acceptance,
            result=last.fact.result,
            measured=last.fact.measured,
            unit="" if row is None else row.unit,
            by=last.said_by,
            at=last.at,
            note=last.fact.note,
            photos=photos,
            hold_point="",
        )
    at: dt.datetime | None = None if row is None else row.checked_local
    return CheckView(
        item=name,
        group=group,
        title=title,
        acceptance=acceptance,
        result="open" if row is None else row.result,
        measured="" if row is None else row.measured,
        unit="" if row is None else row.unit,
        by="" if row is None else row.checked_by_role,
        at=at,
        note="" if row is None else row.note,
        photos=photos,
        hold_point="",
    )
