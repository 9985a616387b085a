"""Figures as a site says them: clock times, minutes, shares, money. Rounding happens here and nowhere else in print."""

import datetime as dt
import math
import re
import textwrap

from wetfront.nouns.plan import Decision, Moments, Plan, Quantity, ReadinessItem, Risk, SiteMixing, Verdict
from wetfront.nouns.reason import Provenance
from wetfront.rules import CHECK_FIRST

_SPACES = re.compile(r"[ \t\n\r]+")
_CLAUSE = re.compile(r"[,;:] ")
"""What follows in a citation is the clause or what was taken from it."""
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]")

NB = "\u00a0"
"""Holds a figure and its unit on one line."""
MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def plain(text: str) -> str:
    """The text without what could steer a terminal or break an XML file; every line break becomes a space."""
    return _SPACES.sub(" ", _CONTROL.sub("?", text)).strip()


def number(value: float, decimals: int = 1) -> str:
    """A figure with a fixed number of decimals, thousands apart by a thin gap, never "-0"."""
    if not math.isfinite(value):
        raise ValueError(f"{value} cannot be printed as a figure")
    text = f"{value:,.{decimals}f}".replace(",", "\u202f")
    return text.removeprefix("-") if not any(digit in text for digit in "123456789") else text


def short(value: float, decimals: int = 1) -> str:
    """Like `number`, without trailing zeros."""
    text = number(value, decimals)
    return text.rstrip("0").rstrip(".") if "." in text else text


def signed(value: float, decimals: int = 0) -> str:
    """A change: +3 or −3, or 0."""
    text = number(abs(value), decimals)
    if not any(digit in text for digit in "123456789"):
        return text
    return f"{'+' if value > 0 else '−'}{text}"


def percent(share: float) -> str:
    """A probability: 42 %, 8.3 %, under 0.1 %, 0 %."""
    if share <= 0:
        return f"0{NB}%"
    if share < 0.001:
        return f"under 0.1{NB}%"
    if 0.999 < share < 1:
        return f"over 99.9{NB}%"
    return f"{short(100 * share, 1 if share < 0.1 or share > 0.99 else 0)}{NB}%"


def percent_against(share: float, limit: float) -> str:
    """A probability beside its limit; with decimals where whole percents would hide which is larger."""
    shown = percent(share)
    if shown == percent(limit) and abs(share - limit) > 1e-9:
        return f"{short(100 * share, 2)}{NB}%"
    return shown


def later(moment: dt.datetime, by: dt.timedelta) -> dt.datetime:
    """Real time later, in the same zone: right also in the night when clocks change."""
    return (moment.astimezone(dt.UTC) + by).astimezone(moment.tzinfo)


def clock(moment: dt.datetime, day: dt.date) -> str:
    """hh:mm rounded to the minute; with the date where it is not the pour's day."""
    rounded = later(moment, dt.timedelta(seconds=30)).replace(second=0, microsecond=0)
    text = f"{rounded:%H:%M}"
    if rounded.date() == day:
        return text
    return f"{WEEKDAYS[rounded.weekday()][:3]} {rounded.day} {MONTHS[rounded.month - 1][:3]} {text}"


def span(moments: Moments, day: dt.date) -> str:
    """The usual moment with its early and late one."""
    early, usual, late = (clock(each, day) for each in (moments.early, moments.usual, moments.late))
    return f"{usual} ({early} to {late})"


def date_words(day: dt.date) -> str:
    """Thursday 17 June 2027."""
    return f"{WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]} {day.year}"


def loads_words(quantity: Quantity, mixing: SiteMixing | None = None) -> str:
    """Full loads and balance load in words; a single load by its size; batches where it is mixed on site."""
    if mixing is not None:
        return f"{counted(mixing.batches_count, 'batch', 'batches')} of {short(mixing.batch_m3, 3)}{NB}m³"
    if quantity.full_loads_count == 0:
        return f"1 load of {short(quantity.balance_load_m3, 2)}{NB}m³"
    full = f"{quantity.full_loads_count} full load{'' if quantity.full_loads_count == 1 else 's'}"
    text = f"{full} of {short(quantity.load_m3, 2)}{NB}m³"
    if quantity.balance_load_m3 > 0:
        text += f" + balance load {short(quantity.balance_load_m3, 2)}{NB}m³"
    return text


def counted(count: int, noun: str, several: str = "") -> str:
    """1 truck, 2 trucks."""
    return f"{count} {noun if count == 1 else several or f'{noun}s'}"


def supply_words(plan: Plan, decision: Decision) -> str:
    """A load every so many minutes, with so many trucks; or a batch, with so many mixers."""
    every = f"every {short(decision.interval_min)} min{MATCHED if decision.interval_pattern == 'matched' else ''}"
    mixing = plan.site_mixing
    if mixing is None:
        return f"a load {every}, {counted(decision.trucks_count, 'truck')}"
    return f"a batch {every}, {counted(mixing.mixers_count, 'mixer')}"


MATCHED = " at full rate, matched to breaks, moves and gang (times in the call-off table)"


def pump_words(decision: Decision) -> str:
    """The pump, and how many like it."""
    return decision.pump if decision.pumps_count == 1 else f"{decision.pump} × {decision.pumps_count}"


def gang_words(decision: Decision) -> str:
    """The gang where it is not that of the sheet's crew, to be added to a list."""
    return f", gang {decision.gang}" if decision.gang else ""


def mix_words(decision: Decision) -> str:
    """The mix with its option and what the plant cools beside it."""
    option = f" with {decision.mix_option}" if decision.mix_option else ""
    return f"{decision.mix}{option}{f', {short(decision.cooler_by_c)} °C cooler' if decision.cooler_by_c else ''}"


def opened_lines(plan: Plan) -> list[str]:
    """Each opened decision: what was chosen, and what the others would cost."""
    return [f"{each.title}: {each.chosen}" + (f" ({'; '.join(each.why)})" if each.why else "") for each in plan.opened]


def mixing_lines(mixing: SiteMixing) -> list[str]:
    """What mixing on site takes: batches and hours, then what has to lie there."""
    early, usual, late = mixing.mixing_h
    who = f"{counted(mixing.mixers_count, 'mixer')} with {counted(mixing.people_count, 'person', 'people')}"
    work = (
        f"{counted(mixing.batches_count, 'batch', 'batches')} of {short(mixing.batch_m3, 3)} m³, {who}, "
        f"{number(usual)} h ({number(early)} to {number(late)}); mixers give {number(mixing.mixing_rate_m3_per_h)}, "
        f"carriers {number(mixing.carrying_rate_m3_per_h)} m³/h"
    )
    cement = f"{number(mixing.cement_kg, 0)} kg of cement"
    if mixing.bags_count is not None and mixing.bag_kg is not None and mixing.bags_per_batch_count is not None:
        cement = (
            f"{counted(mixing.bags_count, 'bag')} of cement of {short(mixing.bag_kg)} kg "
            f"({mixing.bags_per_batch_count} a batch)"
        )
    heaps = [f"{number(each.amount_kg / 1000, 2)} t of {plain(each.name)}" for each in mixing.materials]
    have = ", ".join([cement, *heaps, f"{number(mixing.water_l, 0)} l of water"])
    return [work, f"have on site: {have}; {mixing.note}"]


def verdict_words(verdict: Verdict) -> str:
    """The verdict as a headline."""
    return str(verdict).upper()


LABEL = 11
"""Width of the labels of a screen."""


def labelled(label: str, text: str, width: int, most: int | None = None) -> list[str]:
    """Lines of a screen, at most `most`: the label before the first, the rest below each other."""
    lines = textwrap.wrap(plain(text), width - LABEL)
    if most is not None and len(lines) > most:
        kept = textwrap.shorten(" ".join(lines[most - 1 :]), width - LABEL - 2, placeholder=" …")
        lines = [*lines[: most - 1], kept]
    return [f"{'' if place else label:<{LABEL}}{line}" for place, line in enumerate(lines)]


CUT_SHORT = "search cut short, best so far"
REMEMBERED = "by remembered limits, check the standard"


def remembered(plan: Plan) -> tuple[str, ...]:
    """The standards and papers among the sources of the plan's figures that nobody has read yet, each once by name."""
    sources = (*(step.source for step in plan.why), *(check.source for check in plan.pressure))
    cited = (each.citation for each in sources if each.provenance is Provenance.MEMORY)
    return tuple(dict.fromkeys(_CLAUSE.split(citation, maxsplit=1)[0] for citation in cited))


def qualified(plan: Plan) -> str:
    """What stands behind the verdict: a search cut short; limits from memory, where the pour goes or stops on them."""
    on_memory = (
        bool(remembered(plan))
        if plan.verdict in (Verdict.GO, Verdict.GO_WITH_MEASURES)
        else any(reason.startswith(CHECK_FIRST) for reason in plan.reasons)
    )
    cut = CUT_SHORT if plan.search is not None and plan.search.cut_short else ""
    return "; ".join(part for part in (cut, REMEMBERED if on_memory else "") if part)


def worst_risks(plan: Plan, count: int = 3) -> list[Risk]:
    """The risks nearest to their limits, or furthest over them; ties by order in the plan."""

    def pressing(risk: Risk) -> float:
        if risk.limit > 0:
            return risk.probability / risk.limit
        return math.inf if risk.probability > 0 else 0.0

    return sorted(plan.risks, key=lambda risk: (risk.holds, -pressing(risk)))[:count]


def risk_title(plan: Plan, key: str) -> str:
    """The title of a risk by its key; the key in words where the plan does not list it."""
    return next((risk.title for risk in plan.risks if risk.key == key), key.replace("_", " "))


def settled(item: ReadinessItem) -> bool:
    """Passed or not applicable, as recorded; whatever was measured and noted follows the word."""
    return item.state.startswith(("pass", "not applicable"))


def order_words(names: tuple[str, ...], most: int = 12) -> str:
    """Names in placing order, the tail counted."""
    shown = ", ".join(names[:most])
    return shown if len(names) <= most else f"{shown} and {len(names) - most} more"
