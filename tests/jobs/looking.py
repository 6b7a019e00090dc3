"""Chromium for tests of pages: axe on every state, script on or off, pictures where asked for."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

AXE = Path(__file__).parent.parent / "vendor" / "axe.min.js"
FLAGS = [
    *("--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking"),
    *("--disable-component-update", "--disable-sync"),
]
# WCAG 2.2 AA and what it stands on.
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
PATIENCE_MS = 90_000  # for a machine that has other things to do
PHONE = {"width": 360, "height": 740}
NARROW = {"width": 320, "height": 640}
DESK = {"width": 1280, "height": 900}


def find_chromium() -> str | None:
    return shutil.which("chromium") or shutil.which("chromium-browser")


@contextmanager
def browser() -> Iterator[Any]:
    """Start Chromium; Django lets tests read rows beside the driver's event loop."""
    from playwright.sync_api import sync_playwright

    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with sync_playwright() as driver:
        running = driver.chromium.launch(executable_path=find_chromium(), args=FLAGS)
        try:
            yield running
        finally:
            running.close()
            del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


def violations(page: Any) -> list[str]:
    """Return what axe finds on the page as it stands, one line per element.

    The page's own policy forbids foreign script, so axe is evaluated by the driver.
    """
    page.evaluate(AXE.read_text() + "; 0")
    found = page.evaluate("tags => axe.run({runOnly: tags})", TAGS)
    return [
        f"{rule['id']}: {node['html'][:120]}"
        for rule in found["violations"]
        for node in rule["nodes"]
    ]


def overflow(page: Any) -> int:
    """Return how many pixels the page is wider than a window of 320 (WCAG 1.4.10, reflow)."""
    before = page.viewport_size
    page.set_viewport_size(NARROW)
    wide: int = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    page.set_viewport_size(before)
    return max(0, wide)


def checked(page: Any, name: str) -> None:
    """Demand a state without faults: axe, reflow, targets, and not a line of script.

    Without script of its own the page is the same with script switched off, which axe itself
    cannot do without.
    """
    picture(page, name)
    assert page.locator("script, [onclick], [onchange], [onsubmit]").count() == 0, name
    assert violations(page) == [], name
    assert overflow(page) == 0, name
    assert small_targets(page) == [], name


SMALL = """least => [...document.querySelectorAll('button, input, select, textarea, summary, a')]
.filter(e => e.type !== 'hidden' && e.checkVisibility({visibilityProperty: true}))
.map(e => [e, (e.matches('[type=radio], [type=checkbox]') && e.closest('label')) || e])
.map(([e, target]) => [e, target.getBoundingClientRect()])
.filter(([, box]) => Math.min(box.width, box.height) < least - 0.01)
.map(([e, box]) => `${Math.round(box.width)} x ${Math.round(box.height)}: `
  + e.outerHTML.slice(0, 80))"""


def small_targets(page: Any, least: int = 44) -> list[str]:
    """Return what is smaller than ``least`` CSS pixels in a direction; a label counts as target.

    WCAG 2.2, success criterion 2.5.5 (AAA) asks for 44, 2.5.8 (AA) for 24.
    """
    found: list[str] = page.evaluate(SMALL, least)
    return found


def tab_to(page: Any, is_there: str) -> None:
    """Press Tab until the JavaScript expression holds; a hundred stops are too many."""
    for _ in range(100):
        page.keyboard.press("Tab")
        if page.evaluate(is_there):
            return
    raise AssertionError(f"no stop with {is_there}")


def picture(page: Any, name: str) -> None:
    """Keep a picture in the folder PICTURES, if the environment names one."""
    if folder := os.environ.get("PICTURES"):
        page.screenshot(path=str(Path(folder) / f"{name}.png"), full_page=True)
