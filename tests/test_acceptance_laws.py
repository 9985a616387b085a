"""Laws of the acceptance function: monotone, exact at the edge, blind to order, every outcome reachable."""

import datetime as dt
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loads import at, limits, load, order, ticket
from wetfront.acceptance import SLACK, in_words, judge_load, within
from wetfront.acceptance.limits import ages_with_ticket
from wetfront.acceptance.ticket import ENTRIES, missing_entries
from wetfront.errors import InvalidInput
from wetfront.nouns.limits import Confirmation
from wetfront.nouns.load import Addition, DeliveredLoad, FreshTests
from wetfront.nouns.reason import Provenance
from wetfront.nouns.sheet import TemperatureLimits
from wetfront.nouns.verdict import Decision, Outcome, Whose
from wetfront.rules.model import CHECK_FIRST

ACCEPT, CHECK_TEST, REFUSE = Outcome.ACCEPT, Outcome.CHECK_TEST, Outcome.REFUSE
BOOKS = {book: limits(rule_book=book) for book in ("en", "aci", "is", "as", None)}
PRODUCER = "role: producer's technician"


def maybe(values):
    return st.none() | values


minutes = st.integers(0, 200)
slumps = st.integers(0, 300).map(float)
additions = st.lists(
    st.builds(
        Addition,
        kind=st.sampled_from(("water", "admixture")),
        amount_l=st.floats(0.0, 150.0),
        agreed_by=st.sampled_from(("", PRODUCER)),
        discharged_before_m3=st.sampled_from((0.0, 0.2, 1.0)),
        remixed_min=maybe(st.floats(0.0, 15.0)),
        remixed_turns_count=maybe(st.integers(0, 60)),
    ),
    max_size=2,
).map(tuple)
tests_made = st.builds(
    FreshTests,
    sample=st.sampled_from(("spot", "composite")),
    slump_mm=maybe(slumps),
    slump_check_mm=maybe(slumps),
    air_percent=maybe(st.floats(0.0, 12.0)),
    concrete_temperature_c=maybe(st.floats(0.0, 40.0)),
)


@st.composite
def delivered(draw, batched=None):
    """Any load with its times in order; what is not known stays None."""
    left = at("09:00") + dt.timedelta(minutes=draw(st.integers(0, 20)))
    arrived = left + dt.timedelta(minutes=draw(st.integers(0, 80)))
    start = arrived + dt.timedelta(minutes=draw(st.integers(0, 60)))
    end = start + dt.timedelta(minutes=draw(st.integers(1, 40)))
    begun = draw(st.booleans())
    return DeliveredLoad(
        ticket=ticket(
            batched=batched or draw(maybe(st.just(at("08:55")))),
            left_plant=draw(maybe(st.just(left))),
            agreed_time_limit_min=draw(maybe(st.sampled_from((60.0, 90.0, 150.0)))),
            water_allowed_l=draw(maybe(st.sampled_from((0.0, 40.0)))),
            entries=draw(maybe(st.frozensets(st.sampled_from(ENTRIES)))),
        ),
        arrived=draw(maybe(st.just(arrived))),
        discharge_start=start if begun else None,
        discharge_end=end if begun and draw(st.booleans()) else None,
        drum_turns_count=draw(maybe(st.integers(0, 400))),
        additions=draw(additions),
        tests=draw(tests_made),
    )


NOW = at("13:00")
books = st.sampled_from(list(BOOKS))


def judged(one, book="en", asked=None, **options):
    return judge_load(asked or order(air_percent=4.0), one, BOOKS[book], now=options.pop("now", NOW), **options)


# Monotone


@given(one=delivered(batched=at("08:55")), book=books, older=st.integers(1, 200))
@settings(max_examples=200, deadline=None)
def test_an_older_load_is_never_judged_milder(one, book, older):
    earlier = replace(one, ticket=replace(one.ticket, batched=one.ticket.batched - dt.timedelta(minutes=older)))
    assert judged(earlier, book).verdict.outcome.rank >= judged(one, book).verdict.outcome.rank


@given(one=delivered(), book=books)
@settings(max_examples=100, deadline=None)
def test_a_load_whose_age_is_not_known_is_never_judged_milder_than_the_youngest_that_it_can_be(one, book):
    youngest = one.ticket.left_plant or one.arrived or NOW
    unknown = replace(one, ticket=replace(one.ticket, batched=None))
    known = replace(one, ticket=replace(one.ticket, batched=youngest))
    assert judged(unknown, book).verdict.outcome.rank >= judged(known, book).verdict.outcome.rank


@given(one=delivered(), book=books, waited=st.integers(0, 120))
@settings(max_examples=100, deadline=None)
def test_waiting_never_makes_a_load_that_is_not_discharged_milder(one, book, waited):
    one = replace(one, discharge_start=None, discharge_end=None)
    now, later = at("11:45"), at("11:45") + dt.timedelta(minutes=waited)
    assert judged(one, book, now=later).verdict.outcome.rank >= judged(one, book, now=now).verdict.outcome.rank


@given(one=delivered(), book=books, more_l=st.floats(0.0, 100.0), already_l=st.floats(0.0, 100.0))
@settings(max_examples=200, deadline=None)
def test_more_water_in_the_drum_never_judges_milder_and_never_allows_more(one, book, more_l, already_l):
    def with_water(litres):
        water = Addition(kind="water", amount_l=litres, agreed_by=PRODUCER, remixed_min=10.0)
        return judged(replace(one, additions=(water,)), book)

    less, more = with_water(already_l), with_water(already_l + more_l)
    assert more.verdict.outcome.rank >= less.verdict.outcome.rank
    assert more.verdict.water.litres <= less.verdict.water.litres
    assert less.verdict.water.litres <= judged(replace(one, additions=()), book).verdict.water.litres or already_l == 0


@given(one=delivered(), wetter=st.floats(0.0, 60.0))
@settings(max_examples=100, deadline=None)
def test_a_wetter_batch_never_allows_more_water(one, wetter):
    one = replace(one, discharge_start=None, discharge_end=None, additions=())
    free = replace(one, ticket=replace(one.ticket, free_water_kg_per_m3=165.0))
    more = replace(one, ticket=replace(one.ticket, free_water_kg_per_m3=165.0 + wetter))
    assert judged(more, "aci").verdict.water.litres <= judged(free, "aci").verdict.water.litres


@given(one=delivered(), low=st.integers(0, 150), high=st.integers(150, 300), by=st.integers(0, 40))
@settings(max_examples=100, deadline=None)
def test_a_narrower_project_range_never_judges_milder(one, low, high, by):
    wide = limits(rule_book=None, slump_limits_mm=(float(low), float(high)))
    narrow = limits(rule_book=None, slump_limits_mm=(min(150.0, low + by), max(150.0, high - by)))
    asked = order(air_percent=4.0)
    outcomes = [judge_load(asked, one, each, now=NOW).verdict.outcome.rank for each in (wide, narrow)]
    assert outcomes[1] >= outcomes[0]


# What stands


@given(one=delivered(), book=books, decided=st.sampled_from(list(Outcome)))
@settings(max_examples=200, deadline=None)
def test_what_is_held_is_not_accepted_and_a_decision_never_touches_the_verdict(one, book, decided):
    alone = judged(one, book)
    verdict = alone.verdict
    if verdict.held or verdict.outcome is CHECK_TEST or verdict.rests_on_memory:
        assert not alone.accepted and not alone.refused
        assert in_words(alone) not in ("accept", "refuse")
    else:
        assert alone.accepted == (verdict.outcome is ACCEPT)
        assert in_words(alone) in ("accept", "refuse")
    both = judged(one, book, decision=Decision(outcome=decided, by="role: site engineer"))
    assert both.verdict == verdict
    assert both.accepted == (decided is ACCEPT) and both.refused == (decided is REFUSE)
    assert both.differs == (decided is not verdict.outcome)
    if both.differs:
        assert "by the limits:" in in_words(both)
    assert ("by the limits" in in_words(both)) >= verdict.rests_on_memory


@given(one=delivered(), book=books)
@settings(max_examples=100, deadline=None)
def test_every_finding_says_what_it_found_and_every_refusal_has_a_limit_with_an_owner(one, book):
    verdict = judged(one, book).verdict
    for each in verdict.findings:
        assert each.text
        assert each.outcome is not REFUSE or (each.limit is not None and each.limit.whose in set(Whose))
        assert each.outcome is not CHECK_TEST or each.next_step
    assert verdict.outcome.rank == max((each.outcome.rank for each in verdict.findings), default=0)


# Edges


@pytest.mark.parametrize(
    ("off", "met"), [(0.0, True), (0.5 * SLACK, True), (-1.0, True), (3 * SLACK, False), (1, False)]
)
def test_a_limit_that_is_just_met_is_met(off, met):
    assert within(90.0 + off, high=90.0) is met
    assert within(5.0 - off, low=5.0) is met


@pytest.mark.parametrize(("minute", "outcome"), [("11:00", ACCEPT), ("11:01", REFUSE)])
def test_exactly_120_minutes_are_within_120(minute, outcome):
    one = load(discharge_end=at(minute))
    assert judged(one).verdict.outcome is outcome


@pytest.mark.parametrize(
    ("slump", "outcome"), [(79.9, CHECK_TEST), (80.0, ACCEPT), (170.0, ACCEPT), (170.1, CHECK_TEST)]
)
def test_the_slump_is_compared_as_entered(slump, outcome):
    assert judged(load(tests=FreshTests(slump_mm=slump))).verdict.outcome is outcome


@given(first=slumps, second=maybe(slumps))
@settings(max_examples=200, deadline=None)
def test_the_second_test_decides_only_where_the_first_failed(first, second):
    outcome = judged(load(tests=FreshTests(slump_mm=first, slump_check_mm=second))).verdict.outcome
    inside = [value is not None and 80 <= value <= 170 for value in (first, second)]
    assert outcome is (ACCEPT if inside[0] or inside[1] else CHECK_TEST if second is None else REFUSE)


@given(st.permutations(ENTRIES), st.integers(0, len(ENTRIES)), st.booleans(), st.booleans(), st.booleans())
@settings(max_examples=100, deadline=None)
def test_the_order_of_entries_and_their_repetition_do_not_matter(entries, count, certified, designed, discharged):
    kept = entries[:count]
    options = {"certified": certified, "designed_concrete": designed, "discharged": discharged}
    missing = missing_entries(kept, **options)
    assert missing == missing_entries([*reversed(kept), *kept], **options)
    assert list(missing) == sorted(set(missing)) and not set(missing) & set(kept)
    assert missing_entries({*kept, *missing}, **options) == ()


# Every finding can be met and broken

COMPLETE = frozenset(ENTRIES)
WATER = Addition(kind="water", amount_l=20.0, agreed_by=PRODUCER, remixed_min=10.0)
ADMIXTURE = Addition(kind="admixture", amount_l=1.5, agreed_by=PRODUCER)
OTHER = {"mix": "S2"}
NO_MIX = {"mix": ""}

CASES = [
    ("ticket", ACCEPT, {"ticket": ticket(entries=COMPLETE)}, {}),
    ("ticket", CHECK_TEST, {"ticket": ticket(entries=COMPLETE - {"purchaser"})}, {}),
    ("mix", ACCEPT, {}, {}),
    ("mix", REFUSE, {"ticket": ticket(**OTHER)}, {}),
    ("strength class", ACCEPT, {"ticket": ticket(strength_class="c30/37 ")}, {}),
    ("strength class", CHECK_TEST, {"ticket": ticket(**NO_MIX)}, {}),
    ("strength class", REFUSE, {"ticket": ticket(strength_class="C25/30")}, {}),
    ("exposure", ACCEPT, {"ticket": ticket(exposure_classes=("XF1", "XC3"))}, {}),
    ("exposure", CHECK_TEST, {"ticket": ticket(**NO_MIX)}, {}),
    ("exposure", REFUSE, {"ticket": ticket(exposure_classes=("XC2",))}, {}),
    ("chloride class", ACCEPT, {"ticket": ticket(chloride_class="Cl 0,20")}, {"chloride_class": "Cl 0.20"}),
    ("chloride class", REFUSE, {"ticket": ticket(chloride_class="Cl 0,40")}, {"chloride_class": "Cl 0,20"}),
    ("consistence class", ACCEPT, {"ticket": ticket(consistence_class="S3")}, {}),
    ("consistence class", REFUSE, {"ticket": ticket(consistence_class="S4")}, {}),
    ("largest aggregate", ACCEPT, {"ticket": ticket(maximum_aggregate_size_mm=20.0)}, {}),
    ("largest aggregate", REFUSE, {"ticket": ticket(maximum_aggregate_size_mm=32.0)}, {}),
    ("age", ACCEPT, {}, {}),
    ("age", CHECK_TEST, {"ticket": ticket(batched=None)}, {}),
    ("age", REFUSE, {"discharge_end": at("11:30")}, {}),
    ("water", ACCEPT, {"additions": (WATER,)}, {}),
    ("water", CHECK_TEST, {"additions": (replace(WATER, agreed_by=""),)}, {}),
    ("water", CHECK_TEST, {"additions": (WATER,)}, {"maximum_water_cement_ratio": None}),
    ("water", REFUSE, {"additions": (replace(WATER, amount_l=76.1),)}, {}),
    ("water", REFUSE, {"additions": (replace(WATER, discharged_before_m3=0.3),)}, {}),
    ("water", REFUSE, {"additions": (WATER,), "ticket": ticket(water_allowed_l=19.0)}, {}),
    ("water", REFUSE, {"additions": (WATER,)}, {"design_water_kg_per_m3": 174.0}),
    ("admixture", ACCEPT, {"additions": (ADMIXTURE,)}, {}),
    ("admixture", CHECK_TEST, {"additions": (replace(ADMIXTURE, agreed_by=" "),)}, {}),
    ("remixing", ACCEPT, {"additions": (replace(WATER, remixed_min=8.0),)}, {}),
    ("remixing", CHECK_TEST, {"additions": (replace(WATER, remixed_min=7.9),)}, {}),
    ("consistence", CHECK_TEST, {"additions": (WATER,), "tests": FreshTests()}, {}),
    ("temperature", ACCEPT, {}, {}),
    ("temperature", REFUSE, {"tests": FreshTests(concrete_temperature_c=31.0)}, {}),
    ("temperature", REFUSE, {"tests": FreshTests(concrete_temperature_c=4.0)}, {}),
    ("slump", ACCEPT, {}, {}),
    ("slump", CHECK_TEST, {"tests": FreshTests(slump_mm=60.0)}, {}),
    ("slump", REFUSE, {"tests": FreshTests(slump_mm=60.0, slump_check_mm=70.0)}, {}),
    ("flow", ACCEPT, {"tests": FreshTests(flow_mm=465.0)}, {"consistence_class": "F4"}),
    ("flow", CHECK_TEST, {"tests": FreshTests(flow_mm=464.0)}, {"consistence_class": "F4"}),
    ("slump-flow", ACCEPT, {"tests": FreshTests(slump_flow_mm=640.0)}, {"consistence_class": "SF2"}),
    (
        "slump-flow",
        REFUSE,
        {"tests": FreshTests(slump_flow_mm=599.0, slump_flow_check_mm=599.0)},
        {"consistence_class": "SF2", "target_slump_flow_mm": 680.0},
    ),
    ("air", ACCEPT, {"tests": FreshTests(air_percent=3.5)}, {"air_percent": 4.0}),
    ("air", CHECK_TEST, {"tests": FreshTests(air_percent=3.4)}, {"air_percent": 4.0}),
    ("air", REFUSE, {"tests": FreshTests(air_percent=9.1, air_check_percent=9.2)}, {"air_percent": 4.0}),
]


@pytest.mark.parametrize(("about", "outcome", "of_load", "of_order"), CASES)
def test_every_finding_is_met_held_and_broken_by_that_fact_alone(about, outcome, of_load, of_order):
    asked = order(**of_order)
    own = {} if asked.consistence_class == "S3" else {"slump_limits_mm": None}
    verdict = judge_load(asked, load(**of_load), limits(asked, **own)).verdict
    assert outcome in {each.outcome for each in verdict.findings if each.about == about}
    assert verdict.outcome is outcome


def test_turns_of_the_drum_bind_where_the_book_has_them():
    one = load(drum_turns_count=300, discharge_end=at("10:20"))
    assert judged(one, "aci").verdict.outcome is not REFUSE
    over = judged(replace(one, drum_turns_count=301), "aci").verdict
    assert [each.about for each in over.deciding] == ["drum turns"]
    assert judged(replace(one, drum_turns_count=301), "en").verdict.outcome is ACCEPT


def test_a_test_that_is_due_and_missing_holds_the_load():
    one = load(tests=FreshTests())
    assert judged(one).verdict.outcome is ACCEPT
    assert "slump: not measured" in judged(one).verdict.not_judged
    due = judged(one, tests_due=("slump", "temperature"))
    assert due.verdict.held
    assert {each.next_step for each in due.verdict.deciding} == {"measure slump", "measure concrete temperature"}


# The age


def test_an_agreed_limit_replaces_the_books_and_never_loosens_the_projects():
    """Book aci 90 min, project 120."""
    asked = [ages_with_ticket(BOOKS["aci"], agreed)[0] for agreed in (None, 60.0, 110.0, 150.0)]
    assert [(each.high, each.whose) for each in asked] == [
        (90.0, Whose.RULE_BOOK),
        (60.0, Whose.TICKET),
        (110.0, Whose.TICKET),
        (120.0, Whose.PROJECT),
    ]


def test_a_limit_to_arrival_is_judged_on_arrival_and_beside_the_projects():
    """BS 8500-2: 2 h to arrival; the project: 2 h to the end of discharge."""
    late = load(arrived=at("11:01"), discharge_start=None, discharge_end=None)
    texts = [each.text for each in judged(late, now=at("11:01")).verdict.deciding]
    assert len(texts) == 2 and any("on arrival" in text for text in texts)


def test_indian_practice_limits_the_time_on_site():
    long = load(discharge_end=at("10:09"))
    assert judged(long, "is").verdict.outcome is REFUSE
    assert "on site 31 min" in judged(long, "is").verdict.deciding[0].text


def test_the_expected_discharge_counts():
    one = load(discharge_start=None, discharge_end=None)
    assert judged(one, now=at("10:46"), expected_discharge_min=14.0).verdict.outcome is ACCEPT
    assert judged(one, now=at("10:46"), expected_discharge_min=14.5).verdict.outcome is REFUSE


def test_without_any_clock_the_load_is_held():
    one = load(discharge_start=None, discharge_end=None)
    assert judge_load(order(), one, limits()).verdict.held


@pytest.mark.parametrize(
    ("key", "one", "options"),
    [
        ("now", load(arrived=None, discharge_start=None, discharge_end=None), {"now": dt.datetime(2027, 6, 17, 10)}),
        ("volume_m3", load(ticket=ticket(volume_m3=0.0)), {}),
        ("expected_discharge_min", load(), {"expected_discharge_min": -1.0}),
        ("chloride_class", load(ticket=ticket(chloride_class="low")), {"asked": order(chloride_class="Cl 0,20")}),
    ],
)
def test_what_cannot_be_judged_is_refused_by_key(key, one, options):
    with pytest.raises(InvalidInput) as refusal:
        judged(one, **options)
    assert refusal.value.key == key


# Water that is left


def test_water_is_left_once_by_the_ticket_in_european_practice():
    fresh = load(discharge_start=None, discharge_end=None, tests=FreshTests(slump_mm=90.0))
    now = at("09:45")
    assert judged(fresh, now=now).verdict.water.litres == 0
    allowed = replace(fresh, ticket=replace(fresh.ticket, water_allowed_l=40.0))
    assert judged(allowed, now=now).verdict.water.litres == 40.0
    assert judged(replace(allowed, additions=(WATER,)), now=now).verdict.water.litres == 0
    assert judged(replace(allowed, discharged_m3=0.3), now=now).verdict.water.litres == 0
    assert judged(replace(allowed, discharge_start=now), now=now).verdict.water.litres == 0


def test_the_ratio_caps_the_water_in_american_practice():
    """0.55 × 330 − 172 = 9.5 l/m³; the slump from 40 to 130 mm would take 18; design water 175 leaves 3."""
    fresh = load(discharge_start=None, discharge_end=None, tests=FreshTests(slump_mm=110.0))
    now = at("09:45")
    assert judged(fresh, "aci", now=now).verdict.water.litres == pytest.approx(8 * 4.0)
    stiff = replace(fresh, tests=FreshTests(slump_mm=107.0, slump_check_mm=107.0))
    assert judged(stiff, "aci", now=now).verdict.water.litres == pytest.approx(8 * 4.6)
    asked = order(design_water_kg_per_m3=175.0)
    assert judged(fresh, "aci", asked=asked, now=now).verdict.water.litres == pytest.approx(8 * 3.0)
    wet = replace(fresh, ticket=replace(fresh.ticket, free_water_kg_per_m3=181.5))
    assert judged(wet, "aci", now=now).verdict.water.litres == 0


# Memory


def test_a_verdict_on_a_remembered_limit_is_plain_only_once_somebody_looked_it_up():
    """EN 206 composite class limits are from memory: 90 to 170 mm for S3."""
    tests = FreshTests(sample="composite", slump_mm=100.0)
    remembered = judge_load(order(), load(tests=tests), limits())
    assert remembered.verdict.outcome is ACCEPT and not remembered.accepted
    assert in_words(remembered) == f"{CHECK_FIRST}: accept"
    seen = tuple(
        Confirmation(rule=rule, edition="2013+A2:2021", by="role: site engineer", on=dt.date(2027, 6, 1))
        for rule in ("slump-under-class", "slump-over-class")
    )
    confirmed = judge_load(order(), load(tests=tests), limits(confirmed=seen))
    assert confirmed.accepted and in_words(confirmed) == "accept"
    (finding,) = (each for each in confirmed.verdict.findings if each.about == "slump")
    assert finding.limit.source.provenance is not Provenance.MEMORY


def test_a_figure_that_was_entered_for_a_remembered_limit_is_used():
    seen = (
        Confirmation(rule="slump-under-class", edition="x", most=20, by="role: engineer", on=dt.date(2027, 6, 1)),
        Confirmation(rule="slump-over-class", edition="x", most=30, by="role: engineer", on=dt.date(2027, 6, 1)),
    )
    found = limits(confirmed=seen).of_test("slump", "composite")
    assert (found.low, found.high) == (80.0, 170.0)  # S3 less 20 and more 30, under the project's 80 to 170


def test_a_refusal_that_another_known_limit_gives_is_plain():
    composite = FreshTests(sample="composite", slump_mm=10.0, slump_check_mm=10.0, concrete_temperature_c=35.0)
    both = judge_load(order(), load(tests=composite), limits())
    assert both.refused and in_words(both) == "refuse"
    only = judge_load(order(), load(tests=replace(composite, concrete_temperature_c=20.0)), limits())
    assert not only.refused and in_words(only) == f"{CHECK_FIRST}: refuse"


def test_a_projects_stricter_figure_is_no_remembered_limit():
    own = limits(rule_book="as", concrete_temperature_at_placing_c=TemperatureLimits(min=8, max=30))
    assert all(each.whose is Whose.PROJECT and not each.rests_on_memory for each in own.temperatures)
    bare = limits(rule_book="as", concrete_temperature_at_placing_c=None)
    assert all(each.rests_on_memory for each in bare.temperatures)
