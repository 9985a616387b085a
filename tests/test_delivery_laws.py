"""Laws of what tickets tell: queue, order of arrival, stops, edges, samples, the balance load."""

import datetime as dt
import math
from dataclasses import replace
from itertools import combinations, pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheets import TARNWICK
from wetfront.delivery.additions import with_log
from wetfront.delivery.edges import Piece, edge_waits, longest_wait, pieces_of, places_in_order
from wetfront.delivery.loads import age_at_end, late, minutes, out_of_order, truck_clashes, volumes, water_ratio
from wetfront.delivery.queue import queue_of
from wetfront.delivery.sampling import sampling_check
from wetfront.delivery.stops import LEAST_STOP_MIN, LogLine, stops_of
from wetfront.desk.deliveries import MeasuredOnSite, balance_call, volumes_of_day
from wetfront.errors import SheetError
from wetfront.intake import read_sheet
from wetfront.intake.day_log import log_lines
from wetfront.nouns.delivery import DeliveryRow, RowState
from wetfront.nouns.delivery_day import StopKind
from wetfront.nouns.load import Addition, DeliveredLoad, FreshTests, Ticket
from wetfront.nouns.sheet import EdgeLimit, Sampling

ZONE = dt.timezone(dt.timedelta(hours=1))
ZERO = dt.datetime(2027, 6, 17, 6, 0, tzinfo=ZONE)
SHEET = read_sheet(TARNWICK / "slab.toml").sheet
MIX, LIMITS = SHEET.mix["S1"], SHEET.specification.live_edge


def at(minute: float | None) -> dt.datetime | None:
    return None if minute is None else ZERO + dt.timedelta(minutes=minute)


def row(
    number: str = "1",
    arrived: float | None = 60,
    start: float | None = 70,
    end: float | None = 84,
    left: float | None = 90,
    batched: float | None = 20,
    volume: float = 8.0,
    place: str = "A",
    state: RowState = RowState.TAKEN,
    **more,
) -> DeliveryRow:
    ticket = Ticket(
        ticket_number=number,
        volume_m3=volume,
        truck=more.pop("truck", ""),
        batched=at(batched),
        left_plant=at(more.pop("on_road", None)),
    )
    load = DeliveredLoad(
        ticket=ticket,
        arrived=at(arrived),
        discharge_start=at(start),
        discharge_end=at(end),
        tests=FreshTests(concrete_temperature_c=more.pop("warm", None)),
    )
    return DeliveryRow(
        line=int(number) + 1 if number.isdecimal() else 1,
        pour="slab",
        state=state,
        why_held="",
        load=load,
        decision=None,
        decided=True,
        left_site=at(left),
        placed_in=place,
        **more,
    )


STAYS = st.lists(st.tuples(st.integers(0, 200), st.integers(1, 60), st.integers(1, 60)), min_size=1, max_size=15)


@settings(deadline=None)
@given(stays=STAYS, places=st.integers(0, 5))
def test_the_queue_s_area_is_the_time_that_all_trucks_stayed(stays, places):
    rows = [
        row(str(number), arrived=begin, start=begin + wait, end=begin + wait, left=begin + wait + rest)
        for number, (begin, wait, rest) in enumerate(stays, 1)
    ]
    queue = queue_of(rows, places, 20.0, 2.0)
    spans = list(pairwise(queue.points))
    on_site = sum(here.on_site * minutes(here.at, then.at) for here, then in spans)
    waiting = sum(here.waiting * minutes(here.at, then.at) for here, then in spans)
    assert on_site == pytest.approx(sum(wait + rest for _, wait, rest in stays))
    assert waiting == pytest.approx(sum(wait for _, wait, _ in stays))
    assert queue.points[-1].on_site == queue.points[-1].waiting == 0
    assert all(0 <= point.waiting <= point.on_site <= queue.most_on_site <= len(rows) for point in queue.points)
    counted = [sum(b <= moment < b + w + r for b, w, r in stays) for moment in range(321)]
    assert queue.most_on_site == max(counted)
    assert queue.waiting_min == sum(max(0, wait + rest - 20) for _, wait, rest in stays)
    assert queue.waiting_cu == pytest.approx(2 * queue.waiting_min)
    assert queue.over_places_min == sum(sum(b <= moment < b + w for b, w, _ in stays) > places for moment in range(321))


def test_a_truck_without_arrival_or_leaving_is_named_and_not_counted():
    queue = queue_of([row("1"), row("2", left=None), row("3", arrived=None)], 3, 35, 2)
    assert (queue.most_on_site, queue.unknown) == (1, ("2", "3"))


@settings(deadline=None)
@given(order=st.permutations(range(7)), size=st.integers(1, 7))
def test_the_loads_out_of_order_are_the_fewest_whose_leaving_out_puts_the_rest_in_order(order, size):
    numbers = [number + 6 for number in order[:size]]  # 6 to 12: 9 before 10, unlike in a dictionary
    rows = [row(str(number), arrived=place) for place, number in enumerate(numbers)]
    out = out_of_order(rows)
    rest = [number for number in numbers if str(number) not in out]
    assert rest == sorted(rest)
    best = max(
        len(kept) for count in range(size + 1) for kept in combinations(numbers, count) if list(kept) == sorted(kept)
    )
    assert len(rest) == best


def test_late_is_longer_on_the_road_than_the_plant_s_high_time_and_an_unknown_plant_is_not_judged():
    rows = [row("1", arrived=80, on_road=39), row("2", arrived=80, on_road=40), row("3", arrived=300, on_road=1)]
    rows[2] = replace(rows[2], load=replace(rows[2].load, ticket=replace(rows[2].load.ticket, plant="other")))
    assert late(rows, {"": 40.0}) == ("1",)


def test_a_truck_cannot_be_loaded_again_before_it_has_left_the_site():
    first, second = row("1", truck="T1"), row("2", batched=100, arrived=130, start=140, end=154, left=160, truck="T1")
    assert truck_clashes([first, second]) == ()
    early = row("2", batched=89, arrived=130, start=140, end=154, left=160, truck="T1")
    assert truck_clashes([early, first]) == (("T1", "1", "2"),)
    assert truck_clashes([row("1"), row("2", batched=21)]) == ()  # no truck named


def test_the_age_without_a_batching_time_counts_from_the_first_later_time_and_says_so():
    known, road, gate, nothing = (
        row("1"),
        row("2", batched=None, on_road=30),
        row("3", batched=None),
        row("4", end=None, start=None),
    )
    assert [(age.min, age.at_least) for age in map(age_at_end, (known, road, gate)) if age] == [
        (64, False),
        (54, True),
        (24, True),
    ]
    assert age_at_end(nothing) is None


@settings(deadline=None)
@given(water=st.floats(100, 250), cement=st.floats(200, 500), added=st.floats(0, 500), volume=st.floats(1, 12))
def test_water_added_raises_the_ratio_by_its_litres_over_the_cement_of_the_load(water, cement, added, volume):
    ratio = water_ratio(water, cement, added, volume, None)
    assert (ratio.after_addition - ratio.as_designed) * cement * volume == pytest.approx(added, abs=1e-6)


@settings(deadline=None)
@given(loads=st.lists(st.tuples(st.floats(0.5, 12), st.sampled_from(list(RowState)[:3])), max_size=12))
def test_delivered_is_accepted_rejected_and_held(loads):
    rows = [row(str(number), volume=volume, state=state) for number, (volume, state) in enumerate(loads)]
    of_day = volumes_of_day(SHEET, SHEET.pour[0], rows, MeasuredOnSite())
    assert of_day.delivered_m3 == pytest.approx(sum(volume for volume, _ in loads))
    assert of_day.delivered_m3 == pytest.approx(sum(volumes(rows)))


# Stops


@pytest.mark.parametrize(("gap", "count"), [(LEAST_STOP_MIN - 1, 0), (LEAST_STOP_MIN, 1)])
def test_a_pause_from_10_minutes_on_is_a_stop(gap, count):
    rows = [row("1", start=70, end=84), row("2", arrived=84 + gap - 5, start=84 + gap, end=98 + gap)]
    stops = stops_of(rows, (), 600, 8)
    assert [stop.gap_min for stop in stops] == [gap] * count
    assert all(stop.cost_cu == pytest.approx(gap * 10) for stop in stops)


def gap_of(*rows: DeliveryRow):
    (stop,) = stops_of(rows, (), 0, 8)
    return stop.kind, stop.tickets


def test_why_nothing_was_placed_is_told_from_who_was_where():
    first = row("1", start=70, end=84, batched=10)
    assert gap_of(first, row("2", arrived=80, start=110, end=124)) == (StopKind.TRUCKS_WAITING, ("2",))
    assert gap_of(first, row("2", arrived=105, start=110, end=124)) == (StopKind.NO_TRUCK, ("2",))
    short = row("2", arrived=105, start=110, end=118, volume=3.5)
    assert gap_of(first, short) == (StopKind.BALANCE_LOAD, ("2",))
    overtaken = row("2", batched=20, arrived=115, start=124, end=138)
    came = row("3", batched=30, arrived=105, start=110, end=124)
    assert gap_of(first, overtaken, came) == (StopKind.LATE_TRUCK, ("2",))
    (stop,) = stops_of([first, row("2", arrived=105, start=110, end=124)], (), 0, 8, late=("2",))
    assert (stop.kind, stop.tickets) == (StopKind.LATE_TRUCK, ("2",))


def stopped(remark: str = "") -> list[DeliveryRow]:
    """The third of four loads takes 54 min where the others take 14."""
    times = [(70, 84), (86, 100), (102, 156), (158, 172)]
    return [
        row(str(number), start=start, end=end, remarks=remark if number == 3 else "")
        for number, (start, end) in enumerate(times, 1)
    ]


def test_a_stop_in_a_load_has_the_length_of_what_it_took_too_long_and_its_times_from_remark_or_log():
    (bare,) = stops_of(stopped(), (), 0, 8)
    assert (bare.kind, bare.gap_min, bare.exact) == (StopKind.WITHIN_A_LOAD, 40, False)
    (by_remark,) = stops_of(stopped("line blocked 07:50 to 08:30"), (), 0, 8)
    assert (by_remark.kind, by_remark.exact) == (StopKind.PUMP_BLOCKED, True)
    assert (by_remark.start, by_remark.end) == (at(110), at(150))
    log = [LogLine(at=at(minute), role="pump-operator", text="x") for minute in (112, 151)]
    (by_log,) = stops_of(stopped(), log, 0, 8)
    assert (by_log.start, by_log.end, by_log.known_from) == (at(112), at(151), "the day log")


def test_lines_of_the_log_that_lie_too_close_for_the_stop_are_not_its_begin_and_end():
    log = [LogLine(at=at(minute), role="pump-operator", text="x") for minute in (112, 120)]
    (stop,) = stops_of(stopped(), log, 0, 8)
    assert not stop.exact


def test_a_range_in_a_remark_that_lies_outside_the_discharge_is_not_its_stop():
    (stop,) = stops_of(stopped("lunch 11:00 to 11:30"), (), 0, 8)
    assert not stop.exact


# Edges


@settings(deadline=None)
@given(rate=st.floats(5, 100), strip=st.floats(1, 60), pieces=st.integers(1, 9))
def test_at_a_steady_rate_an_edge_waits_for_one_strip(rate, strip, pieces):
    cuts = [2 * strip * place / pieces for place in range(pieces + 1)]
    flow = [
        Piece(from_m3=low, to_m3=high, start_min=low / rate * 60, end_min=high / rate * 60, batched_min=0)
        for low, high in pairwise(cuts)
    ]
    assert longest_wait(flow, 0, strip, strip).longest_min == pytest.approx(strip / rate * 60)


FLOW = st.lists(st.tuples(st.floats(0.5, 8), st.floats(0, 30), st.floats(1, 60)), min_size=2, max_size=12)


@settings(deadline=None)
@given(flow=FLOW, share=st.floats(0, 1))
def test_no_point_of_an_edge_waits_longer_than_the_longest_wait(flow, share):
    pieces, volume, minute = [], 0.0, 0.0
    for size, pause, takes in flow:
        begin = minute + pause
        pieces.append(
            Piece(from_m3=volume, to_m3=volume + size, start_min=begin, end_min=begin + takes, batched_min=begin - 60)
        )
        volume, minute = volume + size, begin + takes
    strip = volume / 2
    found = longest_wait(pieces, 0, strip, strip)
    place = share * strip
    older = next(piece for piece in pieces if place <= piece.to_m3)
    newer = next(piece for piece in pieces if place + strip <= piece.to_m3 + 1e-9)
    assert newer.at(place + strip) - older.at(place) <= found.longest_min + 1e-6
    assert found.oldest_min >= found.longest_min  # concrete is batched before it is placed


def placed(*places: str, warm: float | None = None, every: float = 20) -> list[DeliveryRow]:
    return [
        row(
            str(number),
            start=number * every,
            end=number * every + 14,
            batched=number * every - 60,
            place=place,
            warm=warm,
        )
        for number, place in enumerate(places)
    ]


def test_a_stop_whose_times_are_known_is_taken_out_of_the_flow():
    rows = stopped("stood 07:45 to 08:25")
    flow = pieces_of(rows, stops_of(rows, (), 0, 8), ZERO)
    assert [(piece.start_min, piece.end_min) for piece in flow[2:4]] == [(102, 105), (145, 156)]
    assert [piece.to_m3 - piece.from_m3 for piece in flow[2:4]] == pytest.approx([8 * 3 / 14, 8 * 11 / 14])
    assert len(pieces_of(stopped(), stops_of(stopped(), (), 0, 8), ZERO)) == 4  # only its length is known: one piece


def test_shared_places_are_taken_apart_and_places_taken_up_again_tell_nothing():
    assert places_in_order(placed("layer 1", "layer 1/2", "layer 2")) == ("layer 1", "layer 2")
    assert places_in_order(placed("A", "B", "A")) is None
    assert places_in_order(placed("A", "")) is None
    edges, why = edge_waits(placed("A", "B", "A"), (), LIMITS, MIX)
    assert edges == () and "one after the other" in why
    assert edge_waits(placed("A", "A"), (), LIMITS, MIX)[0] == ()


def test_loads_discharged_at_the_same_time_tell_no_edge():
    edges, why = edge_waits(placed("A", "B", every=10), (), LIMITS, MIX)
    assert edges == () and "same time" in why


@pytest.mark.parametrize(("warm", "limit"), [(20, 90), (20.1, 75), (25, 75), (30, 60), (45, 60), (None, 60)])
def test_the_limit_of_an_edge_is_that_of_its_concrete_s_temperature_and_the_shortest_where_it_is_unknown(warm, limit):
    (edge,), _ = edge_waits(placed("A", "B", warm=warm), (), LIMITS, MIX)
    assert edge.limit_min == limit
    assert (edge.initial_set_min is None) == (warm is None or warm > 40)


@pytest.mark.parametrize("warm", [10, 30])
def test_initial_set_of_an_edge_is_the_shorter_of_the_two_rules(warm):
    (edge,), _ = edge_waits(placed("A", "B", warm=warm), (), LIMITS, MIX)
    at_20c = MIX.initial_set_at_20c_h * 60
    halving = at_20c * 0.5 ** ((warm - 20) / 11)
    gas = 8.3145
    arrhenius = at_20c * math.exp(MIX.activation_energy_j_per_mol / gas * (1 / (warm + 273.15) - 1 / 293.15))
    assert edge.initial_set_min == pytest.approx(min(halving, arrhenius), rel=1e-4)


def test_an_edge_covered_after_its_initial_set_is_said_to_be_past_it():
    (edge,), _ = edge_waits(placed("A", "B", warm=25, every=400), (), (EdgeLimit(up_to_c=40, longest_min=600),), MIX)
    assert edge.within_limit is True and edge.within_set is False


# Samples, the balance load, the log


def test_samples_are_missed_by_stretches_and_by_loads():
    rows = [row(str(number), sample_id="S" if number in (1, 2, 9) else "") for number in range(1, 11)]
    by_volume = sampling_check(rows, Sampling(one_sample_per_m3=20), 4)
    assert by_volume.missing == ("m³ 20 to 40", "m³ 40 to 60")
    assert (len(by_volume.taken), by_volume.needed_count) == (3, 4)
    by_load = sampling_check(rows[:3], Sampling(one_sample_per_load=True), 3)
    assert by_load.missing == ("load 3",)
    assert sampling_check(rows[2:5], Sampling(), 1).missing == ("the whole pour",)


@settings(deadline=None)
@given(left=st.floats(0, 40), under_way=st.integers(0, 3))
def test_the_balance_load_is_enough_and_not_a_step_more(left, under_way):
    rows = [row(str(number), start=None, end=None, state=RowState.HELD) for number in range(under_way)]
    of_day = volumes_of_day(SHEET, SHEET.pour[0], rows, MeasuredOnSite())
    words = balance_call(SHEET, of_day, rows, left)
    need = left * (1 + SHEET.allowance.wastage_percent / 100) - 8 * under_way
    if need <= 0:
        assert words.startswith("call nothing more")
        return
    called = float(words.removeprefix("call ").split(" ")[0])
    step = SHEET.allowance.rounding_step_m3
    assert called % step == pytest.approx(0, abs=1e-9)
    assert called >= need - 1e-6 and called - max(need, 0) <= step + 1e-6


def line(minute: float, role: str, text: str) -> LogLine:
    return LogLine(at=at(minute), role=role, text=text)


@pytest.mark.parametrize(
    ("told", "agreed"),
    [
        (line(75, "supplier-technician", "41 plus 20 litres"), "supplier-technician"),
        (line(75, "plant-a", "water into 41 is ours"), "plant-a"),
        (line(75, "site-engineer", "41 plus 20 litres"), ""),  # not of the producer
        (line(75, "supplier-technician", "4100 plus 20 litres"), ""),  # another ticket
        (line(300, "supplier-technician", "41 plus 20 litres"), ""),  # long gone
        (line(75, "supplier-technician", "41 looks stiff"), ""),  # nothing added
    ],
)
def test_who_agreed_to_water_is_told_only_by_a_producer_s_line_about_this_load(told, agreed):
    bare = row("41")
    load = replace(bare, load=replace(bare.load, additions=(Addition(kind="water", amount_l=20),)))
    assert with_log(load, [told]).additions[0].agreed_by == agreed


def test_the_day_log_goes_over_midnight_and_never_back():
    day = dt.date(2027, 6, 17)
    lines = log_lines("time_local,role,text\n23:50,a,x\n00:10,b,y\n", "log.csv", day, ZONE)
    assert [each.at.isoformat() for each in lines] == ["2027-06-17T23:50:00+01:00", "2027-06-18T00:10:00+01:00"]
    with pytest.raises(SheetError) as caught:
        log_lines("time_local,text\nnoon,x\n08:00,y\n", "log.csv", day, ZONE)
    assert "log.csv:2: time_local: found 'noon'" in caught.value.message
