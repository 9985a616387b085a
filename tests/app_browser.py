"""Phones for the field app's tests: Debian's chromium with a clock of its own, and what holds for every screen."""

import datetime as dt
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, BrowserContext, Page, Playwright, expect

import boards
from app_server import CODE, Served

# The machine of the tests may be busy; a browser that shows nothing for so long shows nothing.
expect.set_options(timeout=15_000)
CHROMIUM = shutil.which("chromium") or "/usr/bin/chromium"
PHONE = {"width": 360, "height": 740}
TABLET = {"width": 834, "height": 1112}
DESKTOP = {"width": 1366, "height": 820}
AXE = Path(__file__).parent.parent / "ui" / "node_modules" / "axe-core" / "axe.min.js"
RULES = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice")


_BROWSERS: dict[Playwright, Browser] = {}
"""One for all devices that need no storage of their own; it ends with its driver."""
ARGS = ("--no-sandbox", "--disable-dev-shm-usage")


@contextmanager
def phone(
    playwright: Playwright,
    keeps: Path | None = None,
    *,
    fast: dt.timedelta = dt.timedelta(),
    zone: str = "America/New_York",
    language: str = "en-GB",
    size: dict[str, int] = PHONE,
    sees: Path | None = None,
) -> Iterator[BrowserContext]:
    """A device. With a folder in `keeps` its storage stays: opened again with the same folder it is the same device.

    `sees`: a film (y4m) before its camera, which it may use; None: it has no camera.
    """
    camera = ["--use-fake-device-for-media-stream", f"--use-file-for-fake-video-capture={sees}"]
    looks: dict[str, Any] = {
        "viewport": size,
        "timezone_id": zone,
        "locale": language,
        "permissions": ["camera"] if sees else [],
    }
    if keeps is None:
        if playwright not in _BROWSERS:
            _BROWSERS[playwright] = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGS)
        context = _BROWSERS[playwright].new_context(**looks)
    else:
        context = playwright.chromium.launch_persistent_context(
            keeps, executable_path=CHROMIUM, args=[*ARGS, *(camera if sees else [])], **looks
        )
    context.set_default_timeout(20_000)
    context.clock.install(time=boards.NOW + fast)
    try:
        yield context
    finally:
        context.close()


def opened_app(context: BrowserContext, served: Served, where: str = "#/pour/now", role: str = "site-engineer") -> Page:
    """The app as the link with the code opens it, the slab chosen, the role picked."""
    page = context.pages[0] if context.pages else context.new_page()
    page.goto(f"{served.address}#code={CODE}&pour=slab")
    page.evaluate("role => localStorage.setItem('wetfront.role', role)", role)
    page.goto(served.address)
    show(page, served, where)
    # The title comes with the board: from here on a test may take the network away.
    page.get_by_role("heading", name="Ground floor slab").wait_for()
    page.evaluate(
        "async () => { while (!navigator.serviceWorker.controller) await new Promise(go => setTimeout(go, 20)); }"
    )
    return page


def show(page: Page, served: Served, where: str) -> None:
    """A screen of the app."""
    page.goto(served.address + where)
    page.locator("header .clock").wait_for()
    page.locator("main h2").first.wait_for()
    assert page.evaluate("location.hash") == where


def faults_by_axe(page: Page) -> list[str]:
    """What axe finds on the whole of a screen, with contrast of 7:1 for numbers and decisions."""
    size = page.viewport_size
    assert size is not None
    # So that no bar lies over what scrolling would bring out.
    page.set_viewport_size({"width": size["width"], "height": int(page.evaluate("document.body.scrollHeight")) + 200})
    page.evaluate(AXE.read_text(encoding="utf-8"))
    found: list[dict[str, Any]] = page.evaluate(
        """async tags => {
          const rule = 'color-contrast-enhanced';
          const options = {runOnly: {type: 'tag', values: tags}, rules: {[rule]: {enabled: true}}};
          const found = await axe.run(document, options);
          const strong = '.number, .decide, .text, .verdict, header';
          const counts = (id, node) => id !== rule || document.querySelector(node.target[0]).closest(strong);
          return found.violations.flatMap(each =>
            each.nodes.filter(node => counts(each.id, node)).map(node => ({id: each.id, html: node.html})));
        }""",
        list(RULES),
    )
    page.set_viewport_size(size)
    return [f"{each['id']}: {each['html'][:120]}" for each in found]


def small_things(page: Page) -> list[str]:
    """Touch targets under 48 px (56 for decisions), and text under 18 px, that can be seen."""
    found: list[str] = page.evaluate(
        """() => {
          const seen = each => { const box = each.getBoundingClientRect(); return box.width > 1 && box.height > 1; };
          const bad = [];
          for (const each of document.querySelectorAll('button, a, input:not(.sr), select, summary')) {
            const box = each.getBoundingClientRect();
            const least = each.matches('.decide') ? 56 : 48;
            if (seen(each) && !each.matches('.skip') && (box.height < least - 0.5 || box.width < 48 - 0.5))
              bad.push(`${Math.round(box.width)} x ${Math.round(box.height)}: ${each.outerHTML.slice(0, 80)}`);
          }
          const words = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
          for (let at = words.nextNode(); at; at = words.nextNode()) {
            const holder = at.parentElement;
            if (!at.data.trim() || holder.closest('svg, .sr, script, style') || !seen(holder)) continue;
            const size = parseFloat(getComputedStyle(holder).fontSize);
            if (size < 17.9) bad.push(`${size} px: ${at.data.trim().slice(0, 60)}`);
          }
          return bad;
        }"""
    )
    return found


def too_wide(page: Page) -> int:
    """By how many px the page can be scrolled sideways."""
    return int(page.evaluate("Math.max(0, document.documentElement.scrollWidth - innerWidth)"))
