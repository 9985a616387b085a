"""The slab day of the demo through its tickets and day log: what the forecast knows at which moment."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from demo_day import at, candidate, events, situation, state_at
from wetfront.errors import InvalidInput
from wetfront.forecast import (
    HOSE,
    PlacedCells,
    compared,
    forecast_of,
    forecast_view,
    forecaster,
    joints_ahead,
    standing,
)
from wetfront.forecast.coming import coming_of
from wetfront.journal import fold
from wetfront.nouns.board import Question
from wetfront.placing.simulate import trace

SEED = 20_270_617
LAST_CONCRETE = at("15:59")


@pytest.fixture(scope="module")
def by():
    return forecaster(situation(), candidate(), SEED)


def asked(by, when):
    return forecast_of(by, state_at(when), at(when))


@pytest.mark.parametrize("when", ["09:30", "11:06", "11:20", "12:00", "13:00", "14:00"])
def test_the_end_of_the_day_lies_in_the_band(by, when):
    """Half an hour on either side: the band is nine in ten, and this is one day."""
    end = forecast_view(asked(by, when)).end_of_placing
    slack = dt.timedelta(minutes=30)
    assert end.early - slack <= LAST_CONCRETE <= end.late + slack


def test_the_band_of_the_end_narrows(by):
    widths = [
        (end.late - end.early).total_seconds() / 60
        for end in (forecast_view(asked(by, when)).end_of_placing for when in ("06:00", "11:20", "13:00", "15:03"))
    ]
    assert widths == sorted(widths, reverse=True) and widths[-1] < 0.3 * widths[0]


def test_at_six_past_eleven_it_knows_how_long_the_edge_of_b2_may_wait(by):
    """The concrete of B1 waits for B2: 75 min by the specification, longer by its own setting."""
    stands = asked(by, "11:06")
    found = standing(stands)
    edge, cells = found.edges["B1 to B2"], found.cells
    waits = np.isin(cells.position, cells.waits)
    allowed = cells.specified_min[waits] - stands.model.seen.placed_min[waits]
    assert edge.waits and allowed.min() == pytest.approx(75)
    assert np.quantile(edge.join_until_min, 0.05) > cells.specified_min[waits].min()
    assert edge.chance_over_specification > 0.2 and edge.chance_of_cold_joint < edge.chance_over_specification


def test_at_six_past_eleven_it_knows_the_agreed_joint_behind_and_the_next_ahead(by):
    ahead, behind = joints_ahead(asked(by, "11:06"))
    assert (ahead.joint.id, behind.joint.id) == ("x12", "x24")
    assert behind.is_behind and not ahead.is_behind and behind.joint.agreed_emergency
    assert ahead.until_net_m3 == pytest.approx(41, abs=2.5)
    assert "not agreed for an emergency stop" in ahead.words and "is behind the front" in behind.words


def test_after_a_stop_the_hose_comes_before_any_number(by):
    stopped = asked(by, "11:10")
    for question in (Question(kind="pump down", minutes=40.0), Question(kind="stop here")):
        assert compared(stopped, question).caution == HOSE
    assert compared(asked(by, "10:30"), Question(kind="stop here")).caution == ""


def test_the_queue_and_not_the_stop_ages_the_loads(by):
    answer = compared(asked(by, "11:06"), Question(kind="pump down", minutes=40.0))
    sent, held = answer.options[:2]
    assert sent.oldest_load_min.high > held.oldest_load_min.high + 5
    assert sent.trucks_waiting.high > held.trucks_waiting.high
    assert "it is the queue behind the stop that ages the loads, not the stop" in answer.reason


def test_the_edges_that_waited_too_long_are_departures_and_not_cold_joints(by):
    edges = standing(asked(by, "16:30")).edges
    for name in ("B1 to B2", "B2 to B3"):
        assert not edges[name].waits and edges[name].chance_over_specification == 1.0
        assert edges[name].chance_of_cold_joint < 0.25
    assert edges["C1 to C2"].chance_over_specification == 0.0


def test_the_balance_load_follows_from_what_was_measured(by):
    before, after = (forecast_view(asked(by, when)).balance_load_m3 for when in ("15:01", "15:03"))
    assert after.low <= 3.5 <= after.high
    assert after.high - after.low < before.high - before.low


def test_nothing_that_was_seen_stays_uncertain_after_the_last_load(by):
    done = asked(by, "16:30")
    assert done.outcome.end_of_pour_min.min() == done.outcome.end_of_pour_min.max() == 15 * 60 + 59
    assert done.way.remaining_m3.max() == 0
    # What nobody measured stays open: the temperature of some loads, and with it their minutes by the specification.
    for name in ("delivered_m3", "waste_m3", "loads_count", "refused_count", "first_discharge_min"):
        column = getattr(done.outcome, name)
        assert column.min() == column.max(), name
    assert (done.outcome.watched_min.min(axis=0) == done.outcome.watched_min.max(axis=0)).all()
    assert done.outcome.delivered_m3[0] == pytest.approx(227.5)
    assert forecast_view(done).call_next_by is None
    with pytest.raises(InvalidInput, match="ended"):
        compared(done, Question(kind="stop here"))


def test_the_order_in_which_entries_come_in_changes_nothing(by):
    now = at("13:00")
    known = [event for event in events() if event.at <= now]
    one = forecast_of(by, fold("slab", known), now)
    other = forecast_of(by, fold("slab", reversed(known)), now)
    assert (one.outcome.end_of_pour_min == other.outcome.end_of_pour_min).all()
    assert forecast_view(one) == forecast_view(other)
    for name, edge in standing(one).edges.items():
        assert (edge.join_until_min == standing(other).edges[name].join_until_min).all()


def test_what_ifs_stand_beside_each_other_on_the_same_draws(by):
    stands = asked(by, "10:30")
    late = compared(stands, Question(kind="next truck late", minutes=30.0))
    on_time = late.options[-1]
    assert late.options[late.recommended] is not on_time
    assert all(option.end_of_placing.usual >= on_time.end_of_placing.usual for option in late.options)
    rain = compared(stands, Question(kind="rain", at=at("13:00")))
    assert len(rain.options) >= 2 and "13:00" in rain.question
    stop = compared(stands, Question(kind="stop here"))
    assert stop.recommended == 0 and all("stop end" in option.needs for option in stop.options[1:])
    for answer in (late, rain, stop):
        assert "safe" not in answer.reason and all("safe" not in option.text for option in answer.options)


@pytest.mark.parametrize(
    ("question", "key"),
    [
        (Question(kind="next truck late"), "minutes"),
        (Question(kind="pump down", minutes=0.0), "minutes"),
        (Question(kind="pump down", minutes=float("nan")), "minutes"),
        (Question(kind="rain"), "at"),
        (Question(kind="rain", at=at("06:00")), "at"),
    ],
)
def test_a_question_that_lacks_its_figure_is_refused_by_name(by, question, key):
    with pytest.raises(InvalidInput) as refused:
        compared(asked(by, "10:30"), question)
    assert refused.value.key == key


def test_finishing_opens_strip_by_strip(by):
    strips = standing(asked(by, "13:20")).strips
    assert list(strips)[:3] == ["C1", "C2", "C3"]
    for strip in strips.values():
        assert (strip.bleed_ends_min <= strip.opens_min).all() and (strip.opens_min < strip.closes_min).all()


def test_every_entry_of_the_day_has_a_forecast_by_volume_and_by_cells(by):
    """Whatever is on record so far: volumes hold, no truck comes and nothing ends before now."""
    few = replace(by, draws=by.draws.part(slice(0, 20)))
    for event in events():
        state = fold("slab", [each for each in events() if each.at <= event.at])
        stands = forecast_of(few, state, event.at)
        seen = stands.model.seen
        load = np.full(len(few.model.cells.volume_m3), -1)
        placed = np.full(len(load), np.nan)
        if seen is not None:
            full = stands.way.filled.order[: seen.cells_count]
            load[full], placed[full] = seen.cell_load[: seen.cells_count], seen.placed_min
        by_cells = forecast_of(few, state, event.at, PlacedCells(load, placed))
        for each in (stands, by_cells):
            now = each.record.now_min
            assert each.has_ended or (each.outcome.end_of_pour_min >= now - 1e-6).all()
            assert (each.way.remaining_m3 >= 0).all()
            forecast_view(each), standing(each)
        assert by_cells.way.remaining_m3 == pytest.approx(stands.way.remaining_m3)


def test_a_pour_of_which_nothing_is_told_has_not_begun_before_now(by):
    """Nine o'clock and no entry: what was due is on the road or late, and the end moves on."""
    silent = forecast_of(by, fold("slab", []), at("09:00"))
    assert silent.outcome.first_discharge_min.min() >= 9 * 60
    assert forecast_view(silent).end_of_placing.usual > forecast_view(asked(by, "05:00")).end_of_placing.usual
    assert forecast_view(silent).on_road_count > 0 and not standing(silent).edges


def test_a_pour_that_ended_at_a_joint_leaves_the_rest_open(by):
    """At 10:07 bay C was full: ended there, nothing of B is placed and the edge to it stays as it is."""
    known = [event for event in events() if event.at <= at("10:20")]
    ended = replace(events()[-1], at=at("10:20"), recorded=at("10:20"), payload={"at_joint": "x24"})
    done = forecast_of(by, fold("slab", [*known, ended]), at("10:21"))
    assert done.has_ended and len(done.model.cells.volume_m3) < len(by.model.cells.volume_m3)
    assert done.outcome.end_of_pour_min.min() == done.outcome.end_of_pour_min.max() == 10 * 60 + 19
    assert done.way.remaining_m3.max() == 0
    assert not any("A" in name for name in standing(done).edges)
    assert forecast_view(done).call_next_by is None


def test_a_stop_at_no_agreed_place_is_shown_and_never_recommended(by):
    answer = compared(asked(by, "11:06"), Question(kind="stop here"))
    titles = [option.title for option in answer.options]
    assert titles[-1] == "stop where the front stands" and answer.recommended != len(titles) - 1
    assert "designer's decision" in answer.options[-1].needs


def test_without_the_compiled_core_fewer_courses_are_taken_and_it_says_so(by, monkeypatch):
    monkeypatch.setenv("WETFRONT_CORE", "plain")
    plain = forecaster(situation(), candidate(), SEED)
    view = forecast_view(asked(plain, "13:00"))
    assert view.members_count == 40 < by.members_count
    assert "fewer courses" in view.text
    monkeypatch.delenv("WETFRONT_CORE")
    assert "fewer courses" not in forecast_view(asked(by, "13:00")).text


@pytest.mark.parametrize("when", ["07:00", "09:00", "11:20", "13:00", "14:00"])
def test_the_loads_to_come_are_those_of_the_simulator(by, when):
    """The first four to the second: their trucks are on record. Later ones wait for trucks that are still loaded."""
    few = replace(by, draws=by.draws.part(slice(0, 25)))
    stands = forecast_of(few, state_at(when), at(when))
    first = 0 if stands.model.seen is None else stands.model.seen.loads_count
    rows = [trace(stands.model, stands.way.chance, member).loads.arrival_min[first:] for member in range(25)]
    count = min(stands.coming.arrives_min.shape[1], *map(len, rows))
    simulated = np.array([np.sort(row)[:count] for row in rows])
    found = stands.coming.arrives_min[:, :count]
    assert found[:, :4] == pytest.approx(simulated[:, :4], abs=1e-6)
    assert np.median(found, axis=0) == pytest.approx(np.median(simulated, axis=0), abs=12)
    assert (np.diff(found, axis=1) >= 0).all() and (found >= stands.record.now_min - 1e-9).all()


def test_the_call_off_ahead_is_what_is_missing(by):
    stands = asked(by, "14:00")
    called = 8.0 * len([load for load in stands.record.loads if not load.is_refused])
    missing = float(np.median(stands.way.needed_m3)) - called
    assert missing <= stands.coming.volume_m3.sum() <= missing + 0.5 + 1e-9
    assert (stands.coming.volume_m3[:-1] == 8.0).all()
    assert forecast_view(stands).on_road_count == (stands.coming.called_min <= stands.record.now_min).sum() > 0


@pytest.mark.parametrize("when", ["10:30", "11:20", "13:00", "16:30"])
def test_a_joint_that_is_cold_in_the_simulator_was_joined_after_its_edge_could_wait(by, when):
    """One clock for the chance and for the deadline, member by member."""
    stands = asked(by, when)
    found = standing(stands)
    assert any(not edge.waits for edge in found.edges.values())
    for name, edge in found.edges.items():
        number = stands.model.joints.edge_names.index(name)
        cold = stands.outcome.edge_set_margin_min[:, number] < -1e-6
        if not edge.waits:
            assert (edge.joined_min[cold] > edge.join_until_min[cold] - 1e-6).all(), name


def test_where_nobody_knows_which_plant_sent_what_nothing_is_said_to_be_on_the_road(by):
    stands = asked(by, "11:20")
    full_min = stands.outcome.watched_min[:, len(stands.model.joints.edge_names) :]
    unknown = coming_of(replace(stands.way, plants_known=False), full_min, stands.record.now_min)
    assert unknown.on_road_count == 0 < stands.coming.on_road_count == unknown.begun_count
    assert unknown.next_call_min == stands.coming.next_call_min > stands.record.now_min
