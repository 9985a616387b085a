"""What no single key can tell: names that must meet, times that must fit, limits that must rise."""

import datetime as dt
from collections.abc import Iterable
from difflib import get_close_matches
from typing import Any

from wetfront.errors import InvalidInput
from wetfront.intake.heap_checks import check_aggregate
from wetfront.intake.kinds import Mistakes, Path, path_text
from wetfront.intake.parts import Parts
from wetfront.materials.admixture_classes import with_proposal
from wetfront.nouns.element import Column, DeckSlab, Element, GroundSlab, Slab, Wall
from wetfront.nouns.mix import Mix, MixOption
from wetfront.nouns.site import WEEKDAYS, Hours
from wetfront.planning.day import zone_of
from wetfront.takeoff.problems import geometry_problems

MOST_DAYS = 31
"""That one pour may be tried on."""
_NAMED_ENTRIES = ("plant", "pump", "element", "pour", "joint", "hold_point")


def cross_check(parts: Parts, mistakes: Mistakes) -> None:
    """Note every mistake between the parts that are sound in themselves."""
    for check in (
        _project,
        _ids_once,
        _hours,
        _times_in_order,
        _limits_in_order,
        _supply,
        _mixes,
        _pours,
        _pour_days,
        _days_between,
        _forms,
        _falsework,
        _places,
        _choices,
        _geometry,
    ):
        check(parts, mistakes)


def _words(names: Iterable[str]) -> str:
    listed = sorted(names)
    return ", ".join(listed[:20]) + (f" and {len(listed) - 20} more" if len(listed) > 20 else "") or "none is given"


def _must_be_one_of(name: str, known: set[str], path: Path, what: str, mistakes: Mistakes) -> bool:
    if name in known:
        return True
    near = get_close_matches(name, known, n=1)
    mistakes.add(path, repr(name), f"{what} of this sheet: {_words(known)}", near[0] if near else None)
    return False


def _project(parts: Parts, mistakes: Mistakes) -> None:
    project = parts.whole("project")
    if project is None:
        return
    try:
        zone_of(project.time_zone)
    except (InvalidInput, ValueError, OverflowError):
        allowed = "a time zone's IANA name, or a fixed offset such as UTC+01:00"
        mistakes.add(("project", "time_zone"), repr(project.time_zone), allowed)


def _ids_once(parts: Parts, mistakes: Mistakes) -> None:
    for key in _NAMED_ENTRIES:
        _once([((key, place, "id"), entry.id) for place, entry in parts.entries(key)], mistakes)
    for place, element in parts.entries("element"):
        for inner in ("opening", "thickening"):
            holes = enumerate(getattr(element, inner, ()))
            _once([(("element", place, inner, hole, "id"), entry.id) for hole, entry in holes], mistakes)
    for name, mix in parts.entries("mix"):
        _once([(("mix", name, "option", at, "id"), option.id) for at, option in enumerate(mix.option)], mistakes)


def _once(names: list[tuple[Path, str]], mistakes: Mistakes) -> None:
    first: dict[str, Path] = {}
    for path, name in names:
        if name in first:
            mistakes.add(path, f"{name!r} again", f"each once; it stands in {path_text(first[name])}")
        first.setdefault(name, path)


def _minutes(time: dt.time) -> float:
    return time.hour * 60 + time.minute + time.second / 60


def _after(start: dt.time, time: dt.time) -> float:
    """Minutes from `start` to the next `time`: hours may go on over midnight."""
    return (_minutes(time) - _minutes(start)) % 1440


def _hours(parts: Parts, mistakes: Mistakes) -> None:
    taken: dict[str, int] = {}
    for place, hours in parts.entries("hours"):
        path = ("hours", place)
        if hours.start_local == hours.end_local:
            mistakes.add((*path, "end_local"), _clock(hours.end_local), "an end that is not the start itself")
        until = hours.trowelling_until_local
        if until is not None and _after(hours.start_local, until) < _after(hours.start_local, hours.end_local):
            mistakes.add((*path, "trowelling_until_local"), _clock(until), f"from {_clock(hours.end_local)} on")
        for day in dict.fromkeys(hours.days):
            if day in taken:
                allowed = f"each weekday once; {day} stands in {path_text(('hours', taken[day]))}"
                mistakes.add((*path, "days"), f"{day} again", allowed)
            taken.setdefault(day, place)


def _clock(time: dt.time) -> str:
    return time.strftime("%H:%M")


def _times_in_order(parts: Parts, mistakes: Mistakes) -> None:
    for key, first, last in (
        ("delivery_ban", "start_local", "end_local"),
        ("plant", "opens_local", "closes_local"),
    ):
        for place, entry in parts.entries(key):
            start, end = getattr(entry, first), getattr(entry, last)
            if start >= end:
                mistakes.add((key, place, last), _clock(end), f"a time after {first}, {_clock(start)}")
    for place, limit in parts.entries("noise_limit"):
        if limit.start_local == limit.end_local:
            mistakes.add(("noise_limit", place, "end_local"), _clock(limit.end_local), "an end that is not the start")


def _rising(
    path: Path, low: float, high: float, names: tuple[str, str], mistakes: Mistakes, *, equal: bool = True
) -> None:
    if low > high or (low == high and not equal):
        word = "at least" if equal else "over"
        mistakes.add((*path, names[1]), f"{high:g}", f"a number {word} {names[0]}, {low:g}")


def _limits_in_order(parts: Parts, mistakes: Mistakes) -> None:
    for place, plant in parts.entries("plant"):
        travel, where = plant.travel_loaded_min, ("plant", place, "travel_loaded_min")
        _rising(where, travel.low, travel.usual, ("low", "usual"), mistakes)
        _rising(where, travel.usual, travel.high, ("usual", "high"), mistakes)
    for place, pump in parts.entries("pump"):
        if pump.theoretical_output_m3_per_h is not None:
            names = ("planned_output_m3_per_h", "theoretical_output_m3_per_h")
            planned, most = (getattr(pump, name) for name in names)
            _rising(("pump", place), planned, most, names, mistakes)
    asked = parts.whole("specification")
    if asked is None:
        return
    path: Path = ("specification",)
    for place in range(1, len(asked.live_edge)):
        before, edge = asked.live_edge[place - 1], asked.live_edge[place]
        here: Path = (*path, "live_edge", place)
        if edge.up_to_c <= before.up_to_c:
            mistakes.add((*here, "up_to_c"), f"{edge.up_to_c:g}", f"a temperature over that before, {before.up_to_c:g}")
        if edge.longest_min > before.longest_min:
            allowed = f"at most the time at lower temperature, {before.longest_min:g} min"
            mistakes.add((*here, "longest_min"), f"{edge.longest_min:g}", allowed)
    if asked.slump_limits_mm is not None and asked.slump_limits_mm[0] >= asked.slump_limits_mm[1]:
        low, high = asked.slump_limits_mm
        mistakes.add((*path, "slump_limits_mm"), f"{low:g} to {high:g}", "the lower limit first, then the upper")
    limits = asked.concrete_temperature_at_placing_c
    if limits is not None:
        here = (*path, "concrete_temperature_at_placing_c")
        _rising(here, limits.min, limits.max, ("min", "max"), mistakes, equal=False)
    names = ("evaporation_action_kg_per_m2_h", "evaporation_stop_kg_per_m2_h")
    action, stop = (getattr(asked, name) for name in names)
    _rising(path, action, stop, names, mistakes)


def _supply(parts: Parts, mistakes: Mistakes) -> None:
    trucks, choices, allowance = (parts.whole(key) for key in ("trucks", "choices", "allowance"))
    if trucks is not None:
        _rising(
            ("trucks",),
            trucks.count_promised,
            trucks.count_in_fleet,
            ("count_promised", "count_in_fleet"),
            mistakes,
        )
        for place, size in enumerate(choices.load_sizes_m3 if choices else ()):
            if size > trucks.capacity_m3:
                allowed = f"at most the truck's capacity, {trucks.capacity_m3:g} m³"
                mistakes.add(("choices", "load_sizes_m3", place), f"{size:g}", allowed)
        if allowance and allowance.smallest_load_m3 > trucks.capacity_m3:
            allowed = f"at most the truck's capacity, {trucks.capacity_m3:g} m³"
            mistakes.add(("allowance", "smallest_load_m3"), f"{allowance.smallest_load_m3:g}", allowed)
        most = choices.trucks_between[1] if choices and choices.trucks_between else 0
        if most > trucks.count_in_fleet:
            allowed = f"at most the fleet, trucks.count_in_fleet = {trucks.count_in_fleet}"
            mistakes.add(("choices", "trucks_between", 1), str(most), allowed)
    for place, plant in parts.entries("plant"):
        for at, mix in enumerate(plant.mixes):
            _must_be_one_of(mix, parts.ids("mix"), ("plant", place, "mixes", at), "a mix", mistakes)


def _mixes(parts: Parts, mistakes: Mistakes) -> None:
    for name, mix in parts.entries("mix"):
        names = ("initial_set_at_20c_h", "final_set_at_20c_h")
        first, last = (getattr(mix, key) for key in names)
        _rising(("mix", name), first, last, names, mistakes, equal=False)
        for place, option in enumerate(mix.option):
            _proposable(option, mix, ("mix", name, "option", place), mistakes)
        if parts.whole("site_mixer") is not None or mix.cooling is not None:
            for place, aggregate in enumerate(mix.aggregate):
                check_aggregate(aggregate, ("mix", name, "aggregate", place), mistakes)
                if mix.cooling is not None and aggregate.temperature_c is None:
                    allowed = "its temperature on the heap, since the mix has [cooling]"
                    mistakes.add(("mix", name, "aggregate", place, "temperature_c"), "nothing", allowed)
        if mix.cooling is not None and not mix.aggregate:
            mistakes.add(("mix", name, "aggregate"), "nothing", "the mix's aggregates, since it has [cooling]")


def _proposable(option: MixOption, mix: Mix, path: Path, mistakes: Mistakes) -> None:
    if option.dose_percent is not None and option.admixture is None:
        mistakes.add((*path, "admixture"), "nothing", "the class of admixture that dose_percent is of")
    try:
        with_proposal(option, mix)
    except InvalidInput as error:
        mistakes.add((*path, error.key), "nothing", "the producer's own factor: none can be proposed for so fast a mix")


def _pours(parts: Parts, mistakes: Mistakes) -> None:
    poured: dict[str, Path] = {}
    working = sum(entry.count_working for _, entry in parts.entries("vibrator"))
    for place, pour in parts.entries("pour"):
        path = ("pour", place)
        _must_be_one_of(pour.pump, parts.ids("pump"), (*path, "pump"), "a pump", mistakes)
        if _must_be_one_of(pour.mix, parts.ids("mix"), (*path, "mix"), "a mix", mistakes):
            plants = [plant for _, plant in parts.entries("plant") if not plant.standby]
            if parts.whole("plant") and not any(not plant.mixes or pour.mix in plant.mixes for plant in plants):
                mistakes.add((*path, "mix"), repr(pour.mix), "a mix that a plant which is not a standby supplies")
        for at, name in enumerate(pour.elements):
            here = (*path, "elements", at)
            _must_be_one_of(name, parts.ids("element"), here, "an element", mistakes)
            if name in poured:
                mistakes.add(here, f"{name!r} again", f"each element once; it is in {path_text(poured[name])}")
            poured.setdefault(name, here)
        if pour.vibrators_count is not None and parts.whole("vibrator") and pour.vibrators_count > working:
            allowed = f"at most the working vibrators, {working}"
            mistakes.add((*path, "vibrators_count"), str(pour.vibrators_count), allowed)


def _pour_days(parts: Parts, mistakes: Mistakes) -> None:
    """Each pour on a working day, its start inside the hours of that weekday."""
    all_hours, choices = parts.whole("hours"), parts.whole("choices")
    if all_hours is None:
        return
    for place, pour in parts.entries("pour"):
        weekday = WEEKDAYS[pour.date.weekday()]
        held = [hours for hours in all_hours if weekday in hours.days]
        if not held:
            working = [day for day in WEEKDAYS if any(day in hours.days for hours in all_hours)]
            found = f"{pour.date.isoformat()}, a {pour.date:%A}"
            mistakes.add(("pour", place, "date"), found, f"a day with working hours: {', '.join(working)}")
            continue
        named = f"{pour.date:%A} {pour.date.isoformat()}"
        start = pour.planned_start_local
        if start is not None and not _inside(start, held[0]):
            mistakes.add(("pour", place, "planned_start_local"), _clock(start), _span(held[0], named))
        window = choices.start_between_local if choices else None
        for at, time in enumerate(window or ()):
            if not _inside(time, held[0]):
                mistakes.add(("choices", "start_between_local", at), _clock(time), _span(held[0], named))
        both = all(_inside(time, held[0]) for time in window or ())
        if window and both and _after(held[0].start_local, window[0]) > _after(held[0].start_local, window[1]):
            found = f"{_clock(window[0])} to {_clock(window[1])}"
            mistakes.add(("choices", "start_between_local"), found, "the earlier time first, then the later")


def _days_between(parts: Parts, mistakes: Mistakes) -> None:
    """The first day before the last, not too many, and every pour's own date among them."""
    choices = parts.whole("choices")
    if choices is None or choices.days_between is None:
        return
    first, last = choices.days_between
    path = ("choices", "days_between")
    found = f"{first.isoformat()} to {last.isoformat()}"
    if first > last:
        mistakes.add(path, found, "the earlier day first, then the later")
        return
    if (last - first).days >= MOST_DAYS:
        mistakes.add(path, found, f"at most {MOST_DAYS} days")
    for place, pour in parts.entries("pour"):
        if not first <= pour.date <= last:
            allowed = f"days that hold {path_text(('pour', place, 'date'))}, {pour.date.isoformat()}"
            mistakes.add(path, found, allowed)


def _inside(time: dt.time, hours: Hours) -> bool:
    return _after(hours.start_local, time) < _after(hours.start_local, hours.end_local)


def _span(hours: Hours, named: str) -> str:
    return f"from {_clock(hours.start_local)} to before {_clock(hours.end_local)}, the hours on {named}"


def _poured_elements(parts: Parts) -> Iterable[tuple[int, Element]]:
    named = {name for _, pour in parts.entries("pour") for name in pour.elements}
    return [(place, element) for place, element in parts.entries("element") if element.id in named]


def _forms(parts: Parts, mistakes: Mistakes) -> None:
    upright = [(place, entry) for place, entry in _poured_elements(parts) if isinstance(entry, Wall | Column)]
    if upright and "formwork" not in parts.raw:
        place, element = upright[0]
        found = f"nothing, though {path_text(('element', place))} is a {element.shape}"
        mistakes.add(("formwork",), found, "a table with the form designer's permitted pressure")
    formwork = parts.whole("formwork")
    if formwork is None:
        return
    for place, element in upright:
        if element.height_m > formwork.form_height_m:
            allowed = f"at most the form's height, formwork.form_height_m = {formwork.form_height_m:g} m"
            mistakes.add(("element", place, "height_m"), f"{element.height_m:g}", allowed)


def _falsework(parts: Parts, mistakes: Mistakes) -> None:
    thickness = {element.id: (place, _thickness_mm(element)) for place, element in parts.entries("element")}
    for place, entry in parts.entries("falsework"):
        path = ("falsework", place)
        if entry.permitted_heap_mm < entry.designed_for_thickness_mm:
            allowed = f"at least the thickness, {entry.designed_for_thickness_mm:g} mm"
            mistakes.add((*path, "permitted_heap_mm"), f"{entry.permitted_heap_mm:g}", allowed)
        for at, name in enumerate(entry.elements):
            _must_be_one_of(name, parts.ids("element"), (*path, "elements", at), "an element", mistakes)
            where, found_mm = thickness.get(name, (0, None))
            if found_mm is not None and found_mm > entry.designed_for_thickness_mm:
                allowed = f"at most what its falsework was designed for, {entry.designed_for_thickness_mm:g} mm"
                mistakes.add(("element", where), f"concrete {found_mm:g} mm thick", allowed)


def _thickness_mm(element: Element) -> float | None:
    if isinstance(element, Slab | GroundSlab):
        extra = max((entry.extra_depth_mm for entry in element.thickening), default=0.0)
        return element.thickness_mm + extra
    return element.overall_depth_mm if isinstance(element, DeckSlab) else None


def _places(parts: Parts, mistakes: Mistakes) -> None:
    for place, line in parts.entries("overhead_line"):
        if (line.x_m is None) == (line.y_m is None):
            found = "neither x_m nor y_m" if line.x_m is None else "both x_m and y_m"
            mistakes.add(("overhead_line", place), found, "one of them: y_m for a line along x, x_m for one along y")
    for place, joint in parts.entries("joint"):
        if joint.x_m is None and joint.y_m is None:
            mistakes.add(("joint", place), "neither x_m nor y_m", "at least one of them")


def _choices(parts: Parts, mistakes: Mistakes) -> None:
    choices: Any = parts.whole("choices")
    if choices is None:
        return
    path = ("choices",)
    for key in ("interval_between_min", "trucks_between", "pumps_between", "vibrators_between"):
        pair = getattr(choices, key)
        if pair is not None and pair[0] > pair[1]:
            mistakes.add((*path, key), f"{pair[0]:g} to {pair[1]:g}", "the smaller number first, then the larger")
    if parts.whole("pour"):
        poured = {name for _, pour in parts.entries("pour") for name in pour.elements}
        names = list(enumerate(choices.element_order))
        for at, name in names:
            _must_be_one_of(name, poured, (*path, "element_order", at), "an element that is poured, one", mistakes)
        _once([((*path, "element_order", at), name) for at, name in names], mistakes)
        for place, pour in parts.entries("pour"):
            left_out = [name for name in pour.elements if name not in choices.element_order]
            if left_out and len(left_out) < len(pour.elements):
                allowed = f"also {_words(left_out)} of {path_text(('pour', place, 'elements'))}, or none of that pour"
                mistakes.add((*path, "element_order"), _words(choices.element_order), allowed)
    _gangs(choices, parts, mistakes)
    _splits(choices, parts, mistakes)
    asked = parts.whole("specification")
    for at, layer in enumerate(choices.layers_mm if asked else ()):
        if layer > asked.largest_layer_mm:
            allowed = f"at most specification.largest_layer_mm, {asked.largest_layer_mm:g} mm"
            mistakes.add((*path, "layers_mm", at), f"{layer:g}", allowed)


def _gangs(choices: Any, parts: Parts, mistakes: Mistakes) -> None:
    path: Path = ("choices", "gang")
    opens = min((hours.start_local for _, hours in parts.entries("hours")), default=dt.time.min)
    _once([((*path, place, "id"), gang.id) for place, gang in enumerate(choices.gang)], mistakes)
    for place, gang in enumerate(choices.gang):
        into_night = 0
        for at in range(1, len(gang.hours)):
            before, entry = gang.hours[at - 1].from_local, gang.hours[at].from_local
            # Once the times may go over midnight, to an hour before the site opens.
            into_night += entry <= before
            if entry <= before and (entry >= opens or into_night > 1):
                allowed = f"a time after that of the entry before, {_clock(before)}"
                mistakes.add((*path, place, "hours", at, "from_local"), _clock(entry), allowed)


def _splits(choices: Any, parts: Parts, mistakes: Mistakes) -> None:
    path: Path = ("choices", "splits")
    _once([((*path, at), name) for at, name in enumerate(choices.splits)], mistakes)
    agreed = {joint.id for _, joint in parts.entries("joint") if joint.agreed_emergency}
    for at, name in enumerate(choices.splits):
        if _must_be_one_of(name, parts.ids("joint"), (*path, at), "a joint", mistakes) and name not in agreed:
            allowed = "a joint with agreed_emergency = true: the designer has to agree to it first"
            mistakes.add((*path, at), repr(name), allowed)


def _geometry(parts: Parts, mistakes: Mistakes) -> None:
    """Sizes that do not fit each other, openings outside their element, elements that lie in one another."""
    places = list(parts.entries("element"))
    first = {element.id: (place, element) for place, element in reversed(places)}
    for element_id, key, message in geometry_problems([element for _, element in places]):
        if key == "id":
            continue  # told by _ids_once
        place, element = first[element_id]
        found, _, allowed = message.partition("; allowed is ")
        path = ("element", place, *_inner_path(element, key, message))
        mistakes.add(path, found, allowed or "sizes and places that fit each other")


def _inner_path(element: Element, key: str, message: str) -> Path:
    """The key inside an element, with the place of the opening or thickening that the message names."""
    head, *rest = key.split(".")
    for place, entry in enumerate(getattr(element, head, ()) if head in ("opening", "thickening") else ()):
        if message.startswith(f"{head} {entry.id!r}"):
            return (head, place, *rest)
    return (head, *rest)
