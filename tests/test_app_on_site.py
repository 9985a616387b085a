"""The field app on a site's day: no signal, two phones, wrong clocks, refused entries; each entry counts exactly once.

Real browser, real server, real record; nothing of the app is replaced.
"""

import datetime as dt
import hashlib
import struct
from collections import Counter

import pytest
import segno
from playwright.sync_api import expect, sync_playwright
from pydantic import TypeAdapter

import boards
from app_browser import opened_app, phone, show
from app_server import day_so_far, running_server
from wetfront.nouns.board import Question

HOUR = dt.timedelta(hours=1)


@pytest.fixture(scope="module")
def playwright():
    with sync_playwright() as found:
        yield found


@pytest.fixture
def served(tmp_path):
    with running_server(tmp_path) as found:
        yield found


@pytest.fixture
def invented(tmp_path):
    with running_server(tmp_path, invented=True) as found:
        yield found


def say_stop(page):
    page.get_by_role("button", name="Placing stopped").click()
    page.get_by_role("button", name="blockage").click()


def test_what_is_recorded_without_signal_survives_a_closed_browser_and_is_sent_once(playwright, served, tmp_path):
    with phone(playwright, tmp_path / "phone") as context:
        page = opened_app(context, served)
        expect(page.locator("header")).to_contain_text("Signal")
        context.set_offline(True)
        served.away = True
        say_stop(page)
        show(page, served, "#/pour/load/new")
        page.get_by_label("Ticket number", exact=True).fill("4117")
        page.get_by_label("Volume (m³)").fill("8")
        page.get_by_label("Batched at").fill("10:41")
        page.get_by_role("button", name="4117 arrived").click()
        expect(page.get_by_role("heading", name="4117")).to_be_visible()
        expect(page.locator("header")).to_contain_text("2 not sent")
    with phone(playwright, tmp_path / "phone") as context:
        context.set_offline(True)
        page = context.new_page()
        page.goto(served.address)
        # Opens where it was left, from the device alone, and counts down.
        expect(page.get_by_role("heading", name="4117")).to_be_visible()
        expect(page.locator("header")).to_contain_text("2 not sent")
        expect(page.locator("main")).to_contain_text("until too old, at 12:41")
        context.clock.fast_forward(20 * 60_000)
        expect(page.locator("header")).to_contain_text("20 min old")
        expect(page.locator("header .clock")).to_contain_text("11:26")
        show(page, served, "#/pour/now")
        expect(page.locator(".caution")).to_contain_text("Everyone back from the hose")
        assert served.told() == []
        served.away = False
        context.set_offline(False)
        told = served.told_soon(2)
        page.reload()
        expect(page.locator("header")).to_contain_text("Signal")
        expect(page.locator("header")).not_to_contain_text("not sent")
        told = served.told()
    assert Counter(each.kind for each in told) == {"placing-stopped": 1, "load-arrived": 1}
    assert {each.role for each in told} == {"site-engineer"}
    assert next(each for each in told if each.kind == "load-arrived").payload["batched"] == "2027-06-17T10:41:00+01:00"


def test_an_answer_that_is_lost_sends_again_and_counts_once(playwright, served):
    with phone(playwright) as context:
        page = opened_app(context, served)
        lost = []

        def lose(route):
            route.fetch()
            lost.append(route.request.post_data)
            route.abort()

        page.route("**/events", lose, times=1)
        say_stop(page)
        served.told_soon(1)
        show(page, served, "#/status")
        page.get_by_role("button", name="Try now").click()
        expect(page.locator("main")).to_contain_text("0 not sent")
        assert len(lost) == 1
    assert [each.kind for each in served.told()] == ["placing-stopped"]


def test_two_phones_see_each_other_and_a_contested_load_stays_undecided(playwright, served):
    with phone(playwright) as one, phone(playwright, language="de-DE") as two:
        first = opened_app(one, served, "#/pour/load/4115")
        second = opened_app(two, served, "#/pour/load/4115", role="placing-foreman")
        first.get_by_role("button", name="Accept", exact=True).click()
        expect(second.get_by_text("Angenommen: Bauleitung")).to_be_visible()
        second.get_by_role("button", name="Ablehnen …").click()
        second.get_by_role("button", name="4115 ablehnen").click()
        expect(first.get_by_text("Two people decided differently")).to_be_visible()
    told = served.told()
    assert Counter(each.payload["decision"] for each in told) == {"accept": 1, "refuse": 1}
    assert len({each.device for each in told}) == 2


@pytest.mark.parametrize(("fast", "words"), [(HOUR, "60 min fast"), (-HOUR, "60 min slow")])
def test_a_clock_an_hour_off_counts_by_the_server_and_records_the_true_time(playwright, served, fast, words):
    with phone(playwright, fast=fast, zone="Asia/Kolkata") as context:
        page = opened_app(context, served)
        expect(page.locator("header .clock")).to_contain_text("11:0")
        say_stop(page)
        served.told_soon(1)
        show(page, served, "#/status")
        expect(page.locator("main")).to_contain_text(words)
    (told,) = served.sent()
    assert abs(told.at - boards.NOW) < dt.timedelta(minutes=3)
    assert abs(told.recorded - boards.NOW - fast) < dt.timedelta(minutes=3)
    assert told.at.utcoffset() == dt.timedelta(hours=1)


def test_a_refused_entry_is_parked_with_its_reason_blocks_nothing_and_can_be_put_right(playwright, served):
    with phone(playwright) as context:
        page = opened_app(context, served, "#/pour/load/new")
        page.get_by_label("Ticket number", exact=True).fill("4117")
        page.get_by_label("Volume (m³)").fill("8")
        page.get_by_label("Batched at").fill("11:40")
        page.get_by_role("button", name="4117 arrived").click()
        expect(page).to_have_url(f"{served.address}#/pour/load/4117")
        show(page, served, "#/pour/now")
        say_stop(page)
        assert [each.kind for each in served.told_soon(1)] == ["placing-stopped"]
        show(page, served, "#/status")
        parked = page.get_by_role("region", name="1 entries were not taken")
        expect(parked).to_contain_text("not after its arrival")
        parked.get_by_label("Batched at").fill("10:41")
        parked.get_by_role("button", name="Put right and send again").click()
        expect(parked).to_have_count(0)
        arrived = served.told_soon(2)[1]
    assert (arrived.kind, arrived.payload["batched"]) == ("load-arrived", "2027-06-17T10:41:00+01:00")


def test_undo_drops_what_has_not_left_the_phone_and_withdraws_what_has(playwright, served):
    with phone(playwright) as context:
        page = opened_app(context, served)
        say_stop(page)
        served.told_soon(1)
        page.get_by_role("button", name="Undo").click()
        first, second = served.told_soon(2)
        assert (second.kind, second.corrects) == ("withdrawn", first.id)
        page.get_by_role("button", name="Placing stopped").wait_for()
        context.set_offline(True)
        say_stop(page)
        expect(page.locator("header")).to_contain_text("1 not sent")
        page.get_by_role("button", name="Undo").click()
        expect(page.locator("header")).to_contain_text("No signal")
        expect(page.locator("header")).not_to_contain_text("not sent")


def test_what_is_withdrawn_without_signal_is_gone_from_the_screen_at_once(playwright, served):
    with phone(playwright) as context:
        page = opened_app(context, served)
        say_stop(page)
        served.told_soon(1)
        expect(page.locator("header")).to_contain_text("Signal")
        show(page, served, "#/log")
        # The board that the phone has counts the stop, and the phone has its entry.
        stop = page.locator("li", has=page.get_by_text("Placing stopped")).first
        expect(stop).to_contain_text("no. ")
        context.set_offline(True)
        served.away = True
        show(page, served, "#/pour/now")
        expect(page.get_by_role("button", name="Concrete flows again")).to_be_visible()
        show(page, served, "#/log")
        stop.get_by_role("button", name="Put right").click()
        stop.get_by_label("Why is it changed?").fill("it was the pipe")
        stop.get_by_role("button", name="Withdraw the entry").click()
        show(page, served, "#/pour/now")
        expect(page.get_by_role("button", name="Placing stopped")).to_be_visible()
        expect(page.locator("header")).to_contain_text("1 not sent")
        served.away = False
        context.set_offline(False)
        first, second = served.told_soon(2)
        assert (second.kind, second.corrects, second.reason) == ("withdrawn", first.id, "it was the pipe")
        expect(page.get_by_role("button", name="Placing stopped")).to_be_visible()


def test_a_half_entered_load_stays_half_entered(playwright, served, tmp_path):
    with phone(playwright, tmp_path / "phone") as context:
        page = opened_app(context, served, "#/pour/load/4115")
        page.get_by_role("button", name="100", exact=True).click()
        page.wait_for_timeout(300)
    with phone(playwright, tmp_path / "phone") as context:
        page = context.new_page()
        page.goto(served.address)
        expect(page.get_by_label("Slump (mm)")).to_have_value("100")
        show(page, served, "#/pour/loads")
        expect(page.locator("article", has_text="4115")).to_contain_text("half entered")
    assert served.told() == []


def test_after_a_stop_the_hose_caution_comes_before_any_number(playwright, invented):
    with phone(playwright) as context:
        page = opened_app(context, invented)
        invented.away = True
        say_stop(page)
        page.locator(".caution").wait_for()
        text = page.locator("section.decision").inner_text()
    words = text.split("\n", 1)[1] if text.lower().startswith("next decision") else text
    assert words.strip().startswith("Everyone back from the hose until it flows.")
    assert not any(each.isdigit() for each in words.split("Restart away from the work.")[0])
    assert "min left" not in words, "no countdown that rewards a quick restart"


def test_a_planned_load_takes_two_touches(playwright, invented):
    with phone(playwright) as context:
        page = opened_app(context, invented)
        invented.away = True
        page.get_by_role("button", name="4117 arrived").click()
        page.locator("article", has_text="4117").get_by_role("button", name="Accepted and placed in B3").click()
        expect(page.locator("header")).to_contain_text("3 not sent")
        invented.away = False
        show(page, invented, "#/status")
        page.get_by_role("button", name="Try now").click()
        arrived, decided, placed = invented.told_soon(3)
    assert (arrived.kind, arrived.payload) == ("load-arrived", {"ticket_number": "4117", "volume_m3": 8.0})
    assert decided.payload["decision"] == "accept" and decided.seen["board_of"]
    assert placed.payload == {"ticket_number": "4117", "place": "B3", "cells": [30, 31], "lattice": "slab-54"}


def test_a_load_over_its_slump_is_measured_and_sent_back_in_six_touches(playwright, invented):
    with phone(playwright) as context:
        page = opened_app(context, invented)
        touches = [
            page.locator("article", has_text="4115").get_by_role("link", name="Details"),
            page.get_by_role("button", name="200", exact=True),
            page.get_by_role("button", name="Slump: 5 less"),
            page.get_by_role("button", name="Record 195 mm"),
            page.get_by_role("button", name="Refuse …"),
            page.get_by_role("button", name="Refuse 4115"),
        ]
        boxes = []
        for touch in touches:
            touch.wait_for()
            if "Record 195" in str(touch):
                expect(page.get_by_role("region", name="Slump")).to_contain_text("over")
                expect(page.get_by_role("region", name="Slump")).to_contain_text("project specification")
            touch.scroll_into_view_if_needed()
            boxes.append(touch.bounding_box())
            touch.click()
        tested, decided = invented.told_soon(2)
    assert len(touches) <= 6
    assert abs(boxes[-1]["y"] - boxes[-2]["y"]) > 100, "asking and refusing lie far apart"
    assert tested.payload == {"ticket_number": "4115", "test": "slump", "value": 195.0}
    assert decided.payload["decision"] == "refuse" and decided.payload["rules_said"]


def test_nothing_is_placed_while_a_hold_point_is_open_unless_a_named_person_answers(playwright, invented):
    invented.changes = {"holds": boards.holds(("H3", "H4")), "may_place": False, "blocked_by": ("H3 is open",)}
    with phone(playwright) as context:
        page = opened_app(context, invented, "#/pour/load/4115")
        expect(page.get_by_role("button", name="Placed in B2", exact=True)).to_be_disabled()
        assert page.get_by_role("button", name="Accepted and placed").count() == 0
        show(page, invented, "#/ready")
        hold = page.locator("article", has_text="H3")
        expect(hold.get_by_role("button", name="Only for: designer's representative")).to_be_disabled()
        hold.get_by_role("button", name="Go on without the release").click()
        hold.get_by_role("button", name="I answer for going on").click()
        expect(hold).to_contain_text("Name and reason are needed")
        invented.away = True
        hold.get_by_label("Your name").fill("A. Invented")
        hold.get_by_label("Reason").fill("designer on the phone, paper follows")
        hold.get_by_role("button", name="I answer for going on").click()
        expect(hold).to_contain_text("gone past")
        show(page, invented, "#/pour/load/4115")
        expect(page.get_by_role("button", name="Placed in B2", exact=True)).to_be_enabled()
        invented.away = False
        page.evaluate("dispatchEvent(new Event('online'))")
        (told,) = invented.told_soon(1)
    assert (told.kind, told.person) == ("hold-overridden", "A. Invented")


def test_a_photo_is_made_small_kept_and_sent_once(playwright, served, tmp_path):
    picture = tmp_path / "large.png"
    segno.make("an invented wall", micro=False).save(str(picture), scale=130)
    with phone(playwright) as context:
        page = opened_app(context, served, "#/ready")
        item = page.locator("article", has_text="C2").first
        item.get_by_role("button").first.click()
        item.get_by_label("Photo").set_input_files(picture)
        (told,) = served.told_soon(1)
        expect(item.get_by_role("img", name="Photo about C2")).to_be_visible()
        show(page, served, "#/status")
        expect(page.locator("header")).not_to_contain_text("not sent")
        page.get_by_role("button", name="Try now").click()
        page.wait_for_timeout(300)
    content, media_type = served.site.journals.attachment(told.payload["sha256"])
    assert hashlib.sha256(content).hexdigest() == told.payload["sha256"] and media_type == "image/jpeg"
    assert len(content) == told.payload["size_bytes"] < 2_000_000 and told.payload["about"] == "C2"
    assert len(served.told()) == 1


def test_the_code_of_a_ticket_fills_the_form_without_asking_a_foreign_host(playwright, served, tmp_path):
    picture = tmp_path / "code.png"
    segno.make('{"ticket_number":"4121","volume_m3":7.5,"batched":"2027-06-17T10:25:00+01:00","truck":"T02"}').save(
        str(picture), scale=6
    )
    with phone(playwright) as context:
        page = opened_app(context, served, "#/pour/load/new")
        asked = []
        context.on("request", lambda request: asked.append(request.url))
        page.get_by_label("Code from a picture").set_input_files(picture)
        expect(page.get_by_label("Ticket number", exact=True)).to_have_value("4121")
        expect(page.get_by_label("Volume (m³)")).to_have_value("7.5")
        expect(page.get_by_label("Batched at")).to_have_value("10:25")
        expect(page.get_by_label("Truck")).to_have_value("T02")
    assert all(url.startswith((served.address, "blob:", "data:")) for url in asked)


def film(path, text):
    """A still film (y4m, grey) that shows a code."""
    width, height, scale = 640, 480, 8
    grey = bytearray([200]) * (width * height)
    for row, line in enumerate(segno.make(text, error="m").matrix_iter(scale=scale, border=4)):
        shades = bytes(16 if dark else 235 for dark in line)
        start = (row + 20) * width + 60
        grey[start : start + len(shades)] = shades
    frame = b"FRAME\n" + bytes(grey) + bytes([128]) * (width * height // 2)
    path.write_bytes(f"YUV4MPEG2 W{width} H{height} F5:1 Ip A1:1 C420jpeg\n".encode() + frame * 3)
    return path


def test_the_camera_reads_the_code_of_a_ticket_and_takes_a_photo(playwright, served, tmp_path):
    seen = film(tmp_path / "ticket.y4m", '{"ticket_number":"4121","volume_m3":7.5}')
    with phone(playwright, tmp_path / "phone", sees=seen) as context:
        page = opened_app(context, served, "#/pour/load/new")
        page.get_by_role("button", name="Read the code").click()
        expect(page.get_by_label("Ticket number", exact=True)).to_have_value("4121")
        expect(page.get_by_label("Volume (m³)")).to_have_value("7.5")
        show(page, served, "#/ready")
        item = page.locator("article", has_text="C2").first
        item.get_by_role("button").first.click()
        item.get_by_role("button", name="Live camera").click()
        item.get_by_role("button", name="Take it").click()
        (told,) = served.told_soon(1)
        expect(item.get_by_role("img", name="Photo about C2")).to_be_visible()
        show(page, served, "#/status")
        expect(page.locator("header")).not_to_contain_text("not sent")
        page.get_by_role("button", name="Try now").click()
        page.wait_for_timeout(300)
    content, _ = served.site.journals.attachment(told.payload["sha256"])
    assert hashlib.sha256(content).hexdigest() == told.payload["sha256"]
    # Start of frame of a JPEG: height and width.
    frame = content.index(b"\xff\xc0") + 5
    assert struct.unpack(">HH", content[frame : frame + 4]) == (480, 640)


def test_what_ifs_are_asked_as_the_server_takes_them_and_shown_side_by_side(playwright, invented):
    with phone(playwright) as context:
        page = opened_app(context, invented, "#/pour/what-if")
        page.get_by_label("Rain begins at").fill("15:00")
        for name in ("Next truck 30 min late?", "Pump down 40 min?", "Rain at 15:00?", "Stop here and form a joint?"):
            page.get_by_role("button", name=name).click()
            expect(page.locator(".answer")).to_contain_text(name)
        heads = page.get_by_role("columnheader")
        tops = {round(heads.nth(place).bounding_box()["y"]) for place in range(1, 4)}
        invented.away = True
        page.evaluate("dispatchEvent(new Event('offline'))")
        expect(page.get_by_role("button", name="Pump down 40 min?")).to_be_disabled()
        expect(page.locator(".answer")).to_contain_text("Asked at 11:0")
    assert len(tops) == 1, "side by side"
    assert [each["kind"] for each in invented.asked] == ["next truck late", "pump down", "rain", "stop here"]
    assert invented.asked[2]["at"] == "2027-06-17T15:00:00+01:00"
    for each in invented.asked:
        TypeAdapter(Question).validate_python(each)


def test_where_a_load_went_is_corrected_on_the_drawing(playwright, served):
    with phone(playwright) as context:
        page = opened_app(context, served, "#/pour/front")
        expect(page.locator("polygon.placed").first).to_be_visible()
        page.locator("polygon.placed").last.click()
        expect(page.locator("#cell")).to_contain_text("Load")
        page.get_by_role("button", name="Correct where the load went").click()
        page.locator("polygon.open").first.click()
        page.get_by_role("button", name="Save where it went").click()
        told = served.told_soon(1)
    assert told[0].kind == "load-placed" and told[0].payload["cells"] and told[0].payload["lattice"]
    assert told[0].corrects in {each.id for each in day_so_far()}
