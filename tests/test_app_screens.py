"""Every screen of the field app: reachable by everybody, in sun and at night, from a small phone to a desk.

With WETFRONT_PICTURES=FOLDER it leaves a picture of each.
"""

import dataclasses
import os
from pathlib import Path

import pytest
from playwright.sync_api import expect, sync_playwright

import boards
from app_browser import DESKTOP, PHONE, TABLET, faults_by_axe, opened_app, phone, show, small_things, too_wide
from app_server import running_server

SCREENS = {
    "now": "#/pour/now",
    "loads": "#/pour/loads",
    "load": "#/pour/load/4116",
    "arrival": "#/pour/load/4117",
    "front": "#/pour/front",
    "what-if": "#/pour/what-if",
    "day": "#/pour/day",
    "plan": "#/plan",
    "ready": "#/ready",
    "cure": "#/cure",
    "prove": "#/prove",
    "log": "#/log",
    "status": "#/status",
}
DEVICES = [
    ("phone", PHONE, "sun", "en"),
    ("phone", PHONE, "night", "de"),
    ("tablet", TABLET, "night", "en"),
    ("desktop", DESKTOP, "sun", "de"),
]


@pytest.fixture(scope="module")
def playwright():
    with sync_playwright() as found:
        yield found


@pytest.fixture(scope="module")
def invented(tmp_path_factory):
    with running_server(tmp_path_factory.mktemp("invented"), invented=True) as found:
        yield found


def picture(page, name):
    folder = os.environ.get("WETFRONT_PICTURES")
    if folder:
        page.screenshot(path=Path(folder) / f"{name}.png", full_page=True)


@pytest.mark.parametrize(("device", "size", "theme", "language"), DEVICES)
def test_every_screen_can_be_read_and_touched(playwright, invented, device, size, theme, language):
    faults = []
    with phone(playwright, size=size, language=f"{language}-{language.upper()}") as context:
        page = opened_app(context, invented)
        page.evaluate("theme => localStorage.setItem('wetfront.theme', theme)", theme)
        page.reload()
        for name, where in SCREENS.items():
            show(page, invented, where)
            if name == "what-if":
                page.get_by_role("button", name="40 min").last.click()
                page.locator(".answer").wait_for()
            picture(page, f"{device}-{theme}-{name}")
            faults += [f"{name}: {each}" for each in faults_by_axe(page) + small_things(page)]
            faults += [f"{name}: {too_wide(page)} px sideways"] if too_wide(page) else []
        assert page.locator("html").get_attribute("lang") == language
        assert page.locator("html").get_attribute("data-theme") == theme
    assert not faults, "\n".join(faults)


@pytest.mark.parametrize(("width", "enlarged"), [(320, 1), (360, 2)])
def test_nothing_scrolls_sideways_on_a_narrow_or_an_enlarged_screen(playwright, invented, width, enlarged):
    faults = []
    with phone(playwright, size={"width": width, "height": 740}) as context:
        page = opened_app(context, invented)
        for name, where in SCREENS.items():
            show(page, invented, where)
            page.evaluate("by => document.documentElement.style.fontSize = `${112.5 * by}%`", enlarged)
            if name == "what-if":
                page.get_by_role("button", name="40 min").last.click()
                page.locator(".answer").wait_for()
            picture(page, f"{width}-{enlarged}-{name}")
            faults += [f"{name}: {too_wide(page)} px"] if too_wide(page) else []
    assert not faults, "\n".join(faults)


def test_the_app_is_worked_by_keyboard_alone(playwright, invented):
    with phone(playwright, size=DESKTOP) as context:
        page = opened_app(context, invented, "#/ready")
        item = page.locator("article", has_text="C2").get_by_role("button").first
        for thing in (page.locator("summary", has_text="Cast-in items"), item):
            for _ in range(40):
                page.keyboard.press("Tab")
                if thing.evaluate("each => each === document.activeElement"):
                    break
            assert thing.evaluate("each => getComputedStyle(each).outlineWidth") == "3px"
            page.keyboard.press("Enter")
        page.keyboard.press("Tab")
        page.keyboard.press("Space")
        expect(page.get_by_role("button", name="✓ in order")).to_have_attribute("aria-pressed", "true")


def test_a_new_alarm_is_said_once_politely(playwright, tmp_path):
    with running_server(tmp_path, invented=True) as invented, phone(playwright) as context:
        page = opened_app(context, invented)
        news = page.locator(".news")
        assert news.get_attribute("aria-live") == "polite" and news.inner_text().strip() == ""
        # What has passed before the app was opened is no news: it has to have looked once.
        page.wait_for_timeout(2500)
        invented.away = True
        context.clock.fast_forward(4 * 60_000)
        expect(news).to_contain_text("Edge B1–B2: 9 min left, until 11:20.")
        news.get_by_role("button", name="Seen").click()
        context.clock.fast_forward(60_000)
        page.wait_for_timeout(200)
        assert news.inner_text().strip() == ""


def test_an_alarm_goes_when_there_is_nothing_left_to_save(playwright, tmp_path):
    """Else "9 min left" stands over an edge that was joined an hour ago."""
    with running_server(tmp_path, invented=True) as invented, phone(playwright) as context:
        page = opened_app(context, invented)
        news = page.locator(".news")
        page.wait_for_timeout(2500)
        context.clock.fast_forward(4 * 60_000)
        expect(news).to_contain_text("Edge B1–B2: 9 min left")
        edges = boards.board().edges
        joined = tuple(dataclasses.replace(edge, closed=True) if edge.name == "B1 to B2" else edge for edge in edges)
        assert joined != edges
        invented.changes = {"edges": joined}
        invented.site.tell()
        context.clock.fast_forward(60_000)
        expect(news).not_to_contain_text("B1–B2")


@pytest.mark.parametrize(
    ("language", "road", "saw", "window"),
    [
        (
            "en-GB",
            "by the forecast, not seen",
            "Saw cut x24, conventional saw: from about 20:10, by 18 Jun 06:20",
            "First pass 12:20 to 13:00: the foot test decides. Last pass before 14:25, at the latest 15:15.",
        ),
        (
            "de-DE",
            "nach der Vorhersage, nicht gesehen",
            "Fugenschnitt x24, herkömmliche Säge: ab etwa 20:10, bis 18. Juni 06:20",
            "Erster Gang 12:20 bis 13:00: die Trittprobe entscheidet. Letzter Gang vor 14:25, spätestens 15:15.",
        ),
    ],
)
def test_what_is_only_expected_says_so_and_finishing_has_its_whole_window(
    playwright, invented, language, road, saw, window
):
    with phone(playwright, language=language) as context:
        page = opened_app(context, invented, "#/pour/loads")
        expect(page.locator("article.next")).to_contain_text(f"({road})")
        for where in ("#/pour/day", "#/cure"):
            show(page, invented, where)
            cards = page.locator("section[aria-labelledby=finish-title] > ul > li")
            expect(cards.filter(has_text="C1")).to_contain_text(window)
            expect(cards.filter(has_text="C3")).to_contain_text(saw)
            expect(cards.filter(has_text=saw)).to_have_count(1)
