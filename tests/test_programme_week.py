"""The programme sheet, the desk that plans it, and `wetfront week`, with a planner of days that needs no search."""

import datetime as dt
import io
import itertools
import json
import sys
import tomllib
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from icalendar import Calendar
from jsonschema import Draft202012Validator, FormatChecker
from pypdf import PdfReader

from sheets import as_toml, tree_of, written
from wetfront.cli import week as command
from wetfront.cli.main import main
from wetfront.desk import plan_week as desk
from wetfront.desk.day_plans import DayPlan, StartPlan, plan_day, same_hours
from wetfront.desk.plan_pour import plan_one
from wetfront.dossier.document import programme_schema
from wetfront.dossier.week import programme_json, week_screen
from wetfront.dossier.weekchart import WIDTH, week_chart
from wetfront.dossier.weekpdf import programme_pdf
from wetfront.errors import SheetError
from wetfront.intake import read_sheet
from wetfront.intake.programme_sheet import read_booked, read_programme
from wetfront.nouns.plan import Verdict
from wetfront.nouns.programme import STRIKING_CAUTION, Booked, LeftOut
from wetfront.planning.week import Slip

TARNWICK = Path(__file__).parent.parent / "examples" / "tarnwick"
WEEK = TARNWICK / "week.toml"
LAST_FORECAST = dt.date(2027, 6, 22)
DURATION_MIN = {"raft": 420.0, "slab": 450.0}


def quick_day(checked, pour, executor=None, progress=None):
    """Durations out of the air, the shape of the real answer: no forecast after 22 June, the slab not on 17 June."""
    if pour.date > LAST_FORECAST:
        return DayPlan(starts=(), refused="no forecast for that day yet", no_forecast=True)
    if pour.id == "slab" and pour.date == dt.date(2027, 6, 17):
        return DayPlan(starts=(), refused="finishing ends out of hours 33 % (limit 10 %)")
    minutes = DURATION_MIN.get(pour.id, 170.0)
    spread = np.random.default_rng(pour.date.toordinal()).lognormal(0, 0.06, 400)
    starts = (440.0, 540.0) if minutes > 200 else (460.0, 600.0, 720.0)
    return DayPlan(
        starts=tuple(
            StartPlan(
                start_min=start,
                placing_end_min=start + minutes * spread,
                finishing_end_min=start + 1.4 * minutes * spread,
                cost_cu=100 * minutes,
                rate_m3_per_h=30.0 if minutes > 200 else 6.0,
            )
            for start in starts
        )
    )


@pytest.fixture(scope="module")
def checked():
    return read_programme(WEEK)


def planned(checked, **other):
    return desk.plan_week(checked.sheet, checked.pour_sheets, planner=quick_day, inputs=checked.inputs, **other)


@pytest.fixture(scope="module")
def tarnwick(checked):
    return planned(checked)


# The desk.


def test_the_wall_waits_for_its_form_set(tarnwick):
    days = {pour.pour: pour.day for pour in tarnwick.pours}
    assert tarnwick.complete and len(days) == 5
    assert days["raft"] == dt.date(2027, 6, 15)
    assert days["panel-2"] >= max(days["panel-1"], days["panel-3"]) + dt.timedelta(days=2)
    forms = {pour.pour: held for pour in tarnwick.pours for held in pour.resources if held.kind == "form set"}
    walls = sorted((pour for pour in tarnwick.pours if pour.pour in forms), key=lambda pour: pour.start)
    for one, later in itertools.pairwise(walls):
        assert forms[one.pour].until <= later.start
        assert forms[one.pour].form.usual <= forms[one.pour].until <= forms[one.pour].form.late
    assert any("form set wall-form" in conflict.text for conflict in tarnwick.conflicts)


def test_a_day_without_forecast_is_labelled_and_lends_durations_of_the_nearest(tarnwick, checked):
    closing = next(pour for pour in tarnwick.pours if pour.pour == "panel-2")
    assert closing.forecast == "no forecast for that day yet: durations and cost of Tue 22 Jun"
    assert any(text.startswith("panel-2: no forecast") for text in tarnwick.cautions)
    assert all(not pour.forecast for pour in tarnwick.pours if pour.day <= LAST_FORECAST)
    own = quick_day(None, replace(checked.pour_sheets["wall.toml"].sheet.pour[2], date=LAST_FORECAST))
    start = min(each.start_min for each in own.starts)
    spread = np.quantile(own.starts[0].placing_end_min - own.starts[0].start_min, 0.5, method="inverted_cdf")
    usual = dt.timedelta(minutes=float(spread))
    assert closing.start.hour * 60 + closing.start.minute >= start
    assert abs((closing.end_of_placing.usual - closing.start) - usual) <= dt.timedelta(minutes=1)


def test_without_leave_to_book_beyond_the_forecast_the_pour_has_no_day(checked):
    strict = replace(checked.sheet, allow_without_forecast=False)
    programme = desk.plan_week(strict, checked.pour_sheets, planner=quick_day)
    assert not programme.complete
    assert [left.pour for left in programme.left_out] == ["panel-2"]
    assert {reason for _, reason in programme.left_out[0].days} == {"no forecast for that day yet"}


def test_a_saturday_does_not_lend_its_durations_to_a_friday(checked):
    wall = checked.pour_sheets["wall.toml"]
    assert same_hours(wall, dt.date(2027, 6, 25), dt.date(2027, 6, 22))
    assert not same_hours(wall, dt.date(2027, 6, 25), dt.date(2027, 6, 19))
    assert not same_hours(wall, dt.date(2027, 6, 20), dt.date(2027, 6, 27)), "no work on Sundays, so nothing to lend"


def test_the_striking_hours_never_stand_without_their_caution(tarnwick):
    assert STRIKING_CAUTION in tarnwick.cautions
    assert "never this figure" in STRIKING_CAUTION and "coordinator" in STRIKING_CAUTION


def test_a_slip_moves_what_it_must_and_says_why(checked, tarnwick):
    asked = []

    def counting(checked, pour, executor, progress):
        asked.append((pour.id, pour.date))
        return quick_day(checked, pour)

    events = (Slip(pour="panel-1", working_days=1),)
    slipped = desk.plan_week(checked.sheet, checked.pour_sheets, planner=counting, happened=events)
    assert len(asked) == len(set(asked)), "each day of a pour is planned once"
    assert all(date.weekday() < 5 for _, date in asked)
    before = {pour.pour: pour.start for pour in tarnwick.pours}
    now = {pour.pour: pour.start for pour in slipped.pours}
    assert now["panel-1"].date() > before["panel-1"].date()
    assert {each.pour for each in slipped.moved} == {pour for pour in now if now[pour] != before[pour]}
    assert slipped.kept_count == sum(now[pour] == before[pour] for pour in now)
    assert now["raft"] == before["raft"] and now["slab"] == before["slab"]
    mine = next(each for each in slipped.moved if each.pour == "panel-1")
    assert "it has slipped" in mine.why and slipped.happened == ("panel-1 slips by 1 working day",)


def test_a_programme_written_and_read_again_is_where_the_next_one_begins(checked, tarnwick, tmp_path):
    file = tmp_path / "programme.json"
    file.write_text(programme_json(tarnwick), encoding="utf-8")
    booked = read_booked(file)
    assert booked == tuple(Booked(pour=pour.pour, day=pour.day, start=pour.start) for pour in tarnwick.pours)
    again = planned(checked, previous=booked, today=dt.date(2027, 6, 17))
    assert again.moved == () and again.kept_count == 5
    assert [pour.pour for pour in again.pours if pour.done] == ["raft", "slab"]


def test_what_was_placed_stays_as_it_was_recorded(checked):
    begun, ended = (dt.datetime.fromisoformat(f"2027-06-15T{time}+01:00") for time in ("07:30", "16:40"))
    pours = tuple(
        replace(pour, placed_from=begun, placed_until=ended) if pour.id == "raft" else pour
        for pour in checked.sheet.pour
    )
    programme = desk.plan_week(replace(checked.sheet, pour=pours), checked.pour_sheets, planner=quick_day)
    raft = next(pour for pour in programme.pours if pour.pour == "raft")
    assert raft.done and raft.start == begun and raft.end_of_placing.early == raft.end_of_placing.late == ended


def test_the_plant_keeps_two_big_pours_apart(checked):
    plants = (replace(checked.sheet.plant[0], most_in_a_day_m3=300.0),)
    crews = (replace(checked.sheet.crew[0], count=2),)
    pumps = (replace(checked.sheet.pump[0], count=2),)
    pours = tuple(
        replace(pour, earliest=dt.date(2027, 6, 16), preferred=dt.date(2027, 6, 16), latest=dt.date(2027, 6, 16))
        for pour in checked.sheet.pour
        if pour.id in ("raft", "slab")
    )
    sheet = replace(checked.sheet, plant=plants, crew=crews, pump=pumps, pour=pours, order=())
    programme = desk.plan_week(sheet, checked.pour_sheets, planner=quick_day)
    assert len(programme.pours) == 1 and "plant-a gives at most 300 m³ a day" in programme.conflicts[0].text
    assert any("118.5" in text or "119 m³ more on one day" in text for text in programme.proposals)
    richer = replace(sheet, plant=(replace(plants[0], most_in_a_day_m3=419.0),))
    assert desk.plan_week(richer, checked.pour_sheets, planner=quick_day).complete


def test_programme_json_keeps_its_schema(tarnwick):
    validator = Draft202012Validator(programme_schema(), format_checker=FormatChecker())
    document = json.loads(programme_json(tarnwick))
    validator.validate(document)
    del document["pours"][0]["start_window"]
    assert not validator.is_valid(document)


def test_the_same_sheets_give_the_same_bytes(checked, tarnwick):
    again = planned(checked)
    assert programme_json(again) == programme_json(tarnwick)
    assert programme_pdf(again) == programme_pdf(tarnwick)


def test_programme_pdf_holds_each_pour_its_start_and_the_caution_on_striking(tarnwick):
    pages = PdfReader(io.BytesIO(programme_pdf(tarnwick))).pages
    assert 1 <= len(pages) <= 2
    text = " ".join(" ".join(page.extract_text().split()) for page in pages)
    for pour in tarnwick.pours:
        assert f"{pour.pour} " in text and f"{pour.start:%H:%M}" in text
    assert "INVENTED DEMO DATA" in text and "EVERY POUR HAS A DAY" in text
    assert "never this figure" in text and "A booking, not a permit" in text


def test_the_chart_has_a_bar_for_each_thing_that_a_pour_holds(tarnwick):
    drawing = ElementTree.fromstring(week_chart(tarnwick))
    tag = "{http://www.w3.org/2000/svg}rect"
    black = [rect for rect in drawing.iter(tag) if rect.get("fill") == "black"]
    assert len(black) == sum(len(pour.resources) for pour in tarnwick.pours)
    for rect in drawing.iter(tag):
        assert float(rect.get("x")) + float(rect.get("width")) <= WIDTH + 0.01


def test_a_programme_in_which_nothing_has_a_day_is_printed_without_a_chart(tarnwick):
    left = LeftOut(pour="x", title="Unlucky", reason="none of its days", days=((dt.date(2027, 6, 15), "rain"),))
    text = PdfReader(io.BytesIO(programme_pdf(replace(tarnwick, pours=(), left_out=(left,), complete=False))))
    assert "No day for x: Unlucky" in text.pages[0].extract_text()


@pytest.mark.parametrize("width", [60, 80, 100])
def test_the_screen_is_told_in_lines_that_fit(tarnwick, width):
    lines = week_screen(tarnwick, width).splitlines()
    assert max(map(len, lines)) <= width
    text = " ".join(" ".join(lines).split())
    for pour in tarnwick.pours:
        assert pour.pour in text and f"{pour.start:%H:%M}" in text


# The real planner of days.


def test_a_real_day_has_the_verdict_and_the_start_of_the_pours_own_plan(tmp_path):
    """One wall panel with few choices left, on a forecast day, a day after the forecast, and a Sunday: no stand-in."""
    tree = tree_of("wall")
    tree["weather"] = {"forecast": "weather-forecast.csv"}
    tree["choices"] |= {
        "start_between_local": [dt.time(9, 15), dt.time(11, 0)],
        "interval_between_min": [45.0, 45.0],
        "trucks_between": [3, 3],
        "placing_rates_m3_per_h": [5.4],
        "load_sizes_m3": [3.6],
        "strip_widths_m": [3.0],
        "strips_along": "x",
        "layers_mm": [500.0],
    }
    del tree["mix"]["W1"]["option"]
    tree["risk_limits"] = {"load_over_age": 0.2}
    (tmp_path / "weather-forecast.csv").write_bytes((TARNWICK / "weather-forecast.csv").read_bytes())
    sheet = read_sheet(written(tmp_path, tree))
    pour = sheet.sheet.pour[0]
    own, day = plan_one(sheet, pour), plan_day(sheet, pour)
    assert own.verdict in (Verdict.GO, Verdict.GO_WITH_MEASURES)
    best = day.starts[0]
    assert own.decision.start == dt.datetime.combine(
        pour.date, dt.time(int(best.start_min // 60), int(best.start_min % 60)), own.decision.start.tzinfo
    )
    assert best.cost_cu == pytest.approx(sum(line.amount_cu for line in own.cost), abs=0.05)
    usual = own.end_of_placing.usual.hour * 60 + own.end_of_placing.usual.minute
    assert np.median(best.placing_end_min) == pytest.approx(usual, abs=1)
    assert all(9.25 * 60 <= each.start_min <= 11 * 60 for each in day.starts)
    assert plan_day(sheet, replace(pour, date=dt.date(2027, 6, 25))).no_forecast
    assert "Sunday" in plan_day(sheet, replace(pour, date=dt.date(2027, 6, 20))).refused


# The sheet.


def broken(tmp_path, change):
    tree = tomllib.loads(WEEK.read_text(encoding="utf-8"))
    change(tree)
    for name in ("raft.toml", "slab.toml", "wall.toml", "site.toml", "weather-forecast.csv", "readiness-slab.csv"):
        (tmp_path / name).write_bytes((TARNWICK / name).read_bytes())
    file = tmp_path / "week.toml"
    file.write_text(as_toml(tree), encoding="utf-8")
    return file


MISTAKES = {
    "unknown crew": (lambda tree: tree["pour"][0].update(crew="gnag"), "pour[1].crew", "did you mean gang?"),
    "unknown pour of the sheet": (
        lambda tree: tree["pour"][2].update(pour="panel-9"),
        "pour[3].pour",
        "panel-1, panel-3",
    ),
    "no such sheet": (lambda tree: tree["pour"][1].update(sheet="slap.toml"), "slap.toml", "no such file"),
    "latest before earliest": (
        lambda tree: tree["pour"][0].update(latest=dt.date(2027, 6, 14)),
        "pour[1].latest",
        "2027-06-15 (earliest)",
    ),
    "preferred out of its window": (
        lambda tree: tree["pour"][0].update(preferred=dt.date(2027, 6, 18)),
        "pour[1].preferred",
        "2027-06-16 (latest)",
    ),
    "striking times upside down": (
        lambda tree: tree["form_set"][0].update(until_struck_h={"low": 30, "usual": 24, "high": 40}),
        "form_set[1].until_struck_h",
        "low ≤ usual ≤ high",
    ),
    "an order in a circle": (
        lambda tree: tree["order"].append({"pour": "panel-1", "after": ["panel-2"]}),
        "order[2]",
        "without a circle",
    ),
    "the same pour twice": (
        lambda tree: tree["pour"][3].update(pour="panel-1"),
        "pour[4].pour",
        "panel-1 is not already",
    ),
    "an id twice": (lambda tree: tree["pour"][1].update(id="raft", pour="slab"), "pour[2].id", "no other entry"),
    "a programme of a year": (lambda tree: tree.update(last_day=dt.date(2028, 6, 1)), "last_day", "at most 120 days"),
    "hours upside down": (lambda tree: tree.update(work_end_local="06:00"), "work_end_local", "after work_start_local"),
    "fixed on no day": (
        lambda tree: (tree["pour"][0].update(fixed=True), tree["pour"][0].pop("preferred")),
        "pour[1].preferred",
        "fixed",
    ),
    "half a record of placing": (
        lambda tree: tree["pour"][0].update(placed_from="2027-06-15T07:30:00+01:00"),
        "pour[1].placed_until",
        "both",
    ),
    "a chance of one": (lambda tree: tree.update(chance=1.0), "chance", "0.99"),
    "an unknown key": (lambda tree: tree["pump"][0].update(moving_min=3), "pump[1].moving_min", "between_pours_min"),
}


@pytest.mark.parametrize("name", MISTAKES)
def test_a_mistake_is_told_by_its_key_with_what_is_allowed(name, tmp_path):
    change, key, allowed = MISTAKES[name]
    with pytest.raises(SheetError) as error:
        read_programme(broken(tmp_path, change))
    assert key in error.value.message and allowed in error.value.message


def test_all_mistakes_are_told_at_once(tmp_path):
    def change(tree):
        tree["pour"][0]["crew"] = "gnag"
        tree["pour"][1]["sheet"] = "slap.toml"
        tree["chance"] = 0.95
        tree["order"][0]["after"] = ["panel-7"]

    with pytest.raises(SheetError) as error:
        read_programme(broken(tmp_path, change))
    assert len(error.value.problems) == 3
    assert all(problem.line for problem in error.value.problems[:2])


def test_the_example_is_read_with_all_its_files(checked):
    assert next(name for name, _ in checked.inputs) == "week.toml"
    assert {"raft.toml", "slab.toml", "wall.toml", "site.toml", "weather-forecast.csv"} <= dict(checked.inputs).keys()
    assert {pour.id for pour in checked.sheet.pour} == {"raft", "slab", "panel-1", "panel-3", "panel-2"}


@pytest.mark.parametrize(
    "text", ["", "[]", '{"schema": 99, "pours": []}', '{"schema": 1}', '{"schema": 1, "pours": [{}]}']
)
def test_a_file_that_is_no_programme_is_refused(text, tmp_path):
    file = tmp_path / "programme.json"
    file.write_text(text)
    with pytest.raises(SheetError, match="no programme of this format"):
        read_booked(file)


# The command.


@pytest.fixture
def week(monkeypatch, tmp_path):
    """`wetfront week` on the example, with the quick planner of days."""
    monkeypatch.setattr(
        command, "plan_week", lambda *given, **other: desk.plan_week(*given, planner=quick_day, **other)
    )

    def run(*arguments, sheet=WEEK):
        return main(["week", str(sheet), "--out", str(tmp_path / "out"), "--workers", "1", *map(str, arguments)])

    return run


def test_a_week_is_printed_and_written(week, tmp_path, capsys):
    assert week() == 0
    shown = capsys.readouterr()
    assert "EVERY POUR HAS A DAY" in shown.out and "invented demo data" in shown.out and shown.err == ""
    tree = json.loads((tmp_path / "out" / "programme.json").read_text(encoding="utf-8"))
    assert tree["complete"] and len(tree["pours"]) == 5
    calendar = Calendar.from_ical((tmp_path / "out" / "programme.ics").read_bytes())
    events = {str(event["summary"]): event for event in calendar.walk("VEVENT")}
    assert len(events) == 8, "five pours, three form sets"
    for pour in tree["pours"]:
        event = events[f"Pour: {pour['title']}"]
        assert event["dtstart"].dt == dt.datetime.fromisoformat(pour["start"])
    assert len({str(event["uid"]) for event in calendar.walk("VEVENT")}) == 8


def test_a_folder_that_takes_no_files_is_told_before_the_search(monkeypatch, tmp_path, capsys):
    asked = []
    monkeypatch.setattr(command, "plan_week", lambda *given, **other: asked.append(given))
    (tmp_path / "file").write_text("in the way", encoding="utf-8")
    assert main(["week", str(WEEK), "--out", str(tmp_path / "file" / "out"), "--workers", "1"]) == 2
    assert "cannot be written" in capsys.readouterr().err and not asked


def test_a_slip_after_a_written_programme_shows_what_moved(week, tmp_path, capsys):
    assert week() == 0
    kept = tmp_path / "kept.json"
    kept.write_bytes((tmp_path / "out" / "programme.json").read_bytes())
    capsys.readouterr()
    assert week("--previous", kept, "--slip", "panel-3=1", "--today", "2027-06-17") == 0
    shown = " ".join(capsys.readouterr().out.split())
    assert "panel-3 slips by 1 working day" in shown and "keep day and start" in shown and "→" in shown
    tree = json.loads((tmp_path / "out" / "programme.json").read_text(encoding="utf-8"))
    assert "panel-3" in {each["pour"] for each in tree["moved"]}


def test_other_events_are_understood(week, capsys):
    code = week(
        "--lost-day", "2027-06-18", "--away", "boom-42=2027-06-21/2027-06-21", "--not-struck", "panel-1=2027-06-22"
    )
    shown = " ".join(capsys.readouterr().out.split())
    assert code in (0, 1)
    for text in (
        "Fri 18 Jun is lost",
        "1 of pump boom-42 away from Mon 21 Jun to Mon 21 Jun",
        "form of panel-1 is not struck",
    ):
        assert text in shown


def test_the_exit_code_says_that_a_pour_has_no_day(week, tmp_path, capsys):
    assert week(sheet=broken(tmp_path, lambda tree: tree.update(allow_without_forecast=False))) == 1
    assert "1 POUR WITHOUT A DAY" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--slip", "panel-9=1"), "allowed: raft"),
        (("--slip", "panel-1"), "POUR=DAYS"),
        (("--slip", "panel-1=soon"), "a whole number from 1 to 60"),
        (("--lost-day", "Friday"), "a date such as"),
        (("--away", "pump-9=2027-06-21/2027-06-22"), "allowed: gang, boom-42, wall-form"),
        (("--away", "boom-42=2027-06-22/2027-06-21"), "is before"),
        (("--previous", "nowhere.json"), "no such file"),
    ],
)
def test_a_wrong_option_is_refused_with_what_is_allowed(week, arguments, said, tmp_path, capsys):
    assert week(*arguments) == 2
    shown = capsys.readouterr()
    assert said in shown.err and shown.out == "" and not (tmp_path / "out").exists()


def test_mistakes_of_the_sheet_end_the_command_with_all_of_them(week, tmp_path, capsys):
    assert week(sheet=broken(tmp_path, lambda tree: tree.update(chance=2))) == 2
    shown = capsys.readouterr()
    assert "chance" in shown.err and "1 mistake in the programme" in shown.err and shown.out == ""


def test_without_the_solver_the_command_says_what_to_install(week, monkeypatch, capsys):
    monkeypatch.setitem(sys.modules, "ortools.sat.python", None)
    assert week() == 2
    assert "extra `programme`" in capsys.readouterr().err
