"""What a pour is planned in: its day, the weather drawn about the forecast, and everything that holds for all plans."""

import datetime as dt
from dataclasses import dataclass

from wetfront.nouns.plan import Verdict
from wetfront.nouns.sheet import CheckedSheet, Pour, PourSheet
from wetfront.planning.day import Day, DayWeather, day_of, weather_of
from wetfront.planning.locks import contradictions
from wetfront.planning.means import fastest
from wetfront.planning.situation import Situation, situation_of
from wetfront.weather.ensemble import ensemble_of

LONGEST_POUR_H = 48.0
LOOSEN = "loosen one of the two keys in the sheet; nothing was searched"


@dataclass(frozen=True, slots=True)
class NoPlan:
    """Why nothing is searched for a pour on its date."""

    verdict: Verdict
    reasons: tuple[str, ...]
    nearest_change: tuple[str, ...] = ()


def situation_on(checked: CheckedSheet, pour: Pour, seed: int) -> Situation | NoPlan:
    """The situation of a pour on the date that it carries, or why there is none.

    `checked` has the limits of the rule book laid over the sheet's own. The seed draws the weather.
    """
    day = day_of(checked.sheet, pour.date)
    if not day.works:
        return NoPlan(Verdict.NO_GO, (f"the sheet gives no working hours for a {pour.date:%A}",))
    weather = weather_on(checked, day, seed)
    if weather is None:
        return NoPlan(Verdict.NO_FORECAST, _no_forecast(checked, day))
    situation = situation_of(checked.sheet, pour, day, weather)
    endless = _too_long(situation)
    if endless:
        return NoPlan(Verdict.NO_GO, endless, _full_head_forms(situation))
    locked = contradictions(situation)
    return NoPlan(Verdict.NO_GO, locked, (LOOSEN,)) if locked else situation


def days_open(sheet: PourSheet, pour: Pour) -> tuple[dt.date, ...]:
    """The days on which the pour may start: its own, and the working days that the sheet leaves open."""
    if sheet.choices.days_between is None:
        return (pour.date,)
    first, last = sheet.choices.days_between
    days = (first + dt.timedelta(days=step) for step in range((last - first).days + 1))
    return tuple(day for day in days if day == pour.date or day_of(sheet, day).works)


def weather_on(checked: CheckedSheet, day: Day, seed: int) -> DayWeather | None:
    """The forecast of the day until finishing must end, and what is drawn about it; None where it does not reach."""
    files, series = checked.sheet.weather, checked.weather
    if files is None or series is None:
        return None
    drawn = ensemble_of(series, files.spread, seed, files.members_count) if files.members_count > 1 else None
    return weather_of(series, day, day.trowelling_until_min, drawn)


def _no_forecast(checked: CheckedSheet, day: Day) -> tuple[str, ...]:
    needed = (
        f"needed: every hour from {_stamp(day.moment(day.opens_min))} to {_stamp(day.moment(day.trowelling_until_min))}"
    )
    if checked.weather is None:
        return (
            Verdict.NO_FORECAST.value,
            "the sheet names no weather file: add [weather] with forecast, an hourly CSV series",
            needed,
        )
    series = checked.weather
    return (
        Verdict.NO_FORECAST.value,
        f"the series reaches from {_stamp(series.start)} to {_stamp(series.end)}",
        needed,
    )


def _stamp(moment: dt.datetime) -> str:
    return moment.strftime("%Y-%m-%d %H:%M")


def _too_long(situation: Situation) -> tuple[str, ...]:
    """Why a pour cannot be one operation at all, however it is organised."""
    rate, who = fastest(situation)
    hours = situation.gross_m3 / rate if rate > 0 else 0.0
    if hours <= LONGEST_POUR_H:
        return ()
    return (
        f"at {rate:.2g} m³/h, all that {who} allows, the pour takes {hours:.0f} h; one operation is planned up to "
        f"{LONGEST_POUR_H:.0f} h: split it"
        + (", or fill several forms in turn, which is not planned here" if len(situation.forms) > 1 else ""),
    )


def _full_head_forms(situation: Situation) -> tuple[str, ...]:
    """The pressure at which the rise would not matter, once for all forms that are too weak for it."""
    heads = [limit.full_head_kn_per_m2 for limit in situation.form_limits() if limit.highest_rise_m_per_h is not None]
    if not heads:
        return ()
    return (f"forms that carry the full head of {max(heads):.0f} kN/m² may be filled at any rise",)
