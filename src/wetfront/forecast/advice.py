"""The next decision on a running pour, with its time and its reason; a caution about people comes before any number."""

from wetfront.errors import OutOfRange
from wetfront.forecast.ask import HOSE
from wetfront.forecast.pour import Forecast
from wetfront.forecast.stopping import joints_ahead
from wetfront.forecast.views import deadline, edge_views, forecast_view
from wetfront.journal.state import PourState
from wetfront.nouns.board import Advice, EdgeView, ForecastView, SurfaceNow
from wetfront.planning.hourly import evaporation_by_hour
from wetfront.planning.thermal import fresh_temperature_c
from wetfront.weather.evaporation import governing_rate

WORTH_TELLING = 0.1
"""Own rule: from this chance on a departure from the specification or a cold joint is the next decision."""
SOON_MIN = 10.0
"""Own rule: a call to the plant that is due within this is the next decision."""


def advice_of(
    forecast: Forecast, edges: tuple[EdgeView, ...] | None = None, view: ForecastView | None = None
) -> Advice:
    """What to do next. It compares, with its reason; it never says that anything is safe."""
    edges = edge_views(forecast) if edges is None else edges
    view = forecast_view(forecast) if view is None else view
    stopped = any(stop.is_open for stop in forecast.record.stops)
    caution = HOSE if stopped else ""
    if forecast.has_ended:
        return Advice(
            caution="", text="Placing has ended", spoken="Placing has ended", by=None, reason=view.text, else_text=""
        )
    at_risk = [edge for edge in edges if not edge.closed and _is_at_risk(edge)]
    if at_risk:
        return _about_edge(forecast, min(at_risk, key=deadline), caution, stopped)
    due, now = forecast.next_call_min, forecast.record.now_min
    if due is not None and due - now <= SOON_MIN and not stopped:
        clock = forecast.by.situation.day.clock(due)
        return Advice(
            caution=caution,
            text=f"Call the next load by {clock}",
            spoken=f"Next load by {clock}",
            by=forecast.by.situation.day.moment(due),
            reason=f"{view.waiting_count} waiting, {view.on_road_count} on the road by the call-off; {view.text}",
            else_text="",
        )
    arrival = "" if view.next_arrival is None else f"; next truck about {view.next_arrival.usual:%H:%M}"
    text = "Wait for the pump" if stopped else "Go on as planned"
    reason = f"no edge is at more than {WORTH_TELLING:.0%} of a late joint; {view.text}{arrival}"
    return Advice(caution=caution, text=text, spoken=text, by=None, reason=reason, else_text=_joints(forecast))


def _is_at_risk(edge: EdgeView) -> bool:
    return max(edge.chance_over_specification, edge.chance_of_cold_joint) >= WORTH_TELLING


def _about_edge(forecast: Forecast, edge: EdgeView, caution: str, stopped: bool) -> Advice:
    by = deadline(edge)
    is_past = by < forecast.by.situation.day.moment(forecast.record.now_min)
    what = f"Keep {edge.name} covered and vibrated" if stopped else f"Join {edge.name}"
    before = "as soon as the pump runs" if stopped else "now" if is_past else f"before {by:%H:%M}"
    text = f"{what}; join it {before}" if stopped else f"{what} {before}"
    expected = "" if edge.joined_at is None else f"; the forecast joins it about {edge.joined_at.usual:%H:%M}"
    return Advice(
        caution=caution,
        text=text,
        spoken=f"Cover {edge.name}" if stopped else f"{what} {before}",
        by=None if is_past else by,
        reason=f"{edge.name} waits since {edge.waits_since:%H:%M} and {edge.text}{expected}",
        else_text=_joints(forecast),
    )


def _joints(forecast: Forecast) -> str:
    joints = joints_ahead(forecast)
    return f"stop at a joint: {'; '.join(joint.words for joint in joints)}" if joints else ""


def surface_now(forecast: Forecast, state: PourState) -> SurfaceNow:
    """Drying of the surface now: by the last weather that was observed within the hour, else by the forecast."""
    situation, now = forecast.by.situation, forecast.record.now_min
    limits = situation.sheet.specification
    action, stop = limits.evaporation_action_kg_per_m2_h, limits.evaporation_stop_kg_per_m2_h
    fresh = fresh_temperature_c(situation, forecast.by.candidate)
    rate, whose = evaporation_by_hour(situation.weather, fresh, [now])[0], "forecast"
    for entry in state.weather:
        seen, fact = situation.day.minutes(entry.at), entry.fact
        if (
            not 0 <= now - seen <= 60
            or fact.air_c is None
            or fact.humidity_percent is None
            or fact.wind_m_per_s is None
        ):
            continue
        surface = max(fresh, fact.air_c) if fact.concrete_surface_c is None else fact.concrete_surface_c
        try:
            rate = float(governing_rate(fact.air_c, fact.humidity_percent, surface, fact.wind_m_per_s))
            whose = f"observed at {entry.at:%H:%M}"
        except OutOfRange:
            continue
    if rate is None:
        text = "evaporation is not known for this hour"
    else:
        against = (
            f"over the stop value {stop:g}: place no more open surface"
            if rate >= stop
            else f"over the action value {action:g}: mist or film on every open surface"
            if rate >= action
            else f"under the action value {action:g}"
        )
        text = f"evaporation {rate:.2f} kg/m²h ({whose}), {against}"
    return SurfaceNow(evaporation_kg_per_m2_h=rate, action_kg_per_m2_h=action, stop_kg_per_m2_h=stop, text=text)
