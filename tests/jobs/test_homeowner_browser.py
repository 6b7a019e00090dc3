"""The homeowner's page in Chromium: axe on every state, 360 px, keyboard, taps, no script."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone
from PIL import Image

from jobs.messages.compose import unsubscribe_token
from jobs.models import CareLog, Consent, Job, LinkMiss, Photo, Reading
from jobs.services import links, readings
from tests.jobs import looking
from tests.jobs.test_readings import MOVING, add

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.browser,
]
Open = Callable[..., Any]


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    with looking.browser() as running:
        yield running


@pytest.fixture
def bare_home(installed: Job, live_server: Any, settings: Any, tmp_path: Path) -> str:
    """The address of the page of an installed job; nobody has measured its wall yet."""
    settings.MEDIA_ROOT = tmp_path
    company = installed.branch.company
    company.settings = {"phone": "555-0100"}
    company.save()
    return f"{live_server.url}/h/{links.make_link(installed.pk, at=timezone.now())}"


@pytest.fixture
def home(bare_home: str, installed: Job) -> str:
    rows = [
        {
            "kind": "bow",
            "measured_on": date(2026, 3, 2) + timedelta(days=60 * n),
            "at_ticks": 120 * 64,
            "height_ticks": 48 * 64,
            "value_ticks": 80 - n,
            "resolution_ticks": 4,
        }
        for n in range(4)
    ]
    readings.add_readings(site_pk=installed.site_id, wall="north wall", rows=rows, source="office")
    return bare_home


@pytest.fixture
def open_page(chromium: Any) -> Iterator[Open]:
    """Return a function: ``open_page(url, script=False)``."""
    contexts = []

    def start(url: str, *, script: bool = True, size: dict[str, int] = looking.PHONE) -> Any:
        context = chromium.new_context(java_script_enabled=script, viewport=size)
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(looking.PATIENCE_MS)
        page.goto(url)
        return page

    yield start
    for context in contexts:
        context.close()


def send(page: Any, section: str, name: str) -> None:
    """Press the first button of a section and look at what comes."""
    page.click(f"section[aria-labelledby='h-{section}'] form button >> nth=0")
    looking.checked(page, name)


@pytest.mark.parametrize("language", ["en", "es"])
def test_every_answer_of_every_form_passes_axe(
    open_page: Open, home: str, tmp_path: Path, language: str
) -> None:
    page = open_page(f"{home}?lang={language}")
    assert page.get_attribute("html", "lang") == language
    looking.checked(page, f"home-{language}")
    _refuse_each(page, language)
    _save_each(page, language, tmp_path)


def _refuse_each(page: Any, language: str) -> None:
    send(page, "care", f"refused-care-{language}")
    assert page.locator("[role=alert] a").count() == 1
    page.fill("#place-0", "12")
    send(page, "readings", f"refused-length-{language}")
    assert page.input_value("#place-0") == "12"
    page.fill("#place-0", '13"')
    send(page, "readings", f"refused-doubt-{language}")
    page.check("[name=again]")
    send(page, "readings", f"saved-doubt-{language}")
    page.click("#readings summary")
    page.fill("#other-value", "30 mm")
    send(page, "readings", f"refused-other-{language}")
    send(page, "photo", f"refused-photo-{language}")
    send(page, "channel", f"refused-channel-{language}")


def _save_each(page: Any, language: str, folder: Path) -> None:
    page.fill("#place-0", '1 3/16"')
    send(page, "readings", f"saved-readings-{language}")
    file = folder / "wall.png"
    Image.new("RGB", (300, 200), "gray").save(file)
    page.set_input_files("#photo", str(file))
    send(page, "photo", f"saved-photo-{language}")
    send(page, "visit", f"saved-visit-{language}")
    page.check("[name=channel][value=text]")
    send(page, "channel", f"saved-channel-{language}")
    page.click("section[aria-labelledby='h-channel'] form >> nth=1 >> button")
    looking.checked(page, f"saved-stop-{language}")
    for outcome in ("done", "could_not", "something_wrong"):
        page.check(f"[name=outcome][value={outcome}]")
        send(page, "care", f"saved-{outcome}-{language}")


def test_states_of_the_wall_pass_axe(open_page: Open, bare_home: str, installed: Job) -> None:
    page = open_page(bare_home)
    looking.checked(page, "home-no-readings")
    add(installed, MOVING)
    page.goto(bare_home)
    assert page.is_visible("text=Your readings show the wall moving further in.")
    looking.checked(page, "home-moving")
    page.click("text=Show the numbers")
    looking.checked(page, "home-moving-numbers")
    page.emulate_media(color_scheme="dark")
    page.goto(bare_home)
    looking.checked(page, "home-moving-dark")


def test_desk_dark_and_millimetres_pass_axe(open_page: Open, home: str, installed: Job) -> None:
    page = open_page(home, size=looking.DESK)
    looking.checked(page, "home-wide")
    page.emulate_media(color_scheme="dark")
    looking.checked(page, "home-wide-dark")
    installed.branch.company.units = "si"
    installed.branch.company.save()
    page.set_viewport_size(looking.PHONE)
    page.goto(home)
    assert "67 N·m" in page.inner_text("table")  # 50 ft-lb are 67.8 N·m (NIST SP 811, B.8)
    looking.checked(page, "home-si")


@pytest.mark.parametrize("language", ["en", "es"])
def test_dead_ends_pass_axe(open_page: Open, home: str, installed: Job, language: str) -> None:
    stranger = home.rsplit("/", 1)[0] + "/" + "x" * 43
    page = open_page(f"{stranger}?lang={language}")
    looking.checked(page, f"link-unknown-{language}")
    links.revoke_links(installed.pk, at=timezone.now())
    page.goto(f"{home}?lang={language}")
    assert page.is_visible("text=555-0100")
    looking.checked(page, f"link-gone-{language}")
    LinkMiss.objects.update(count=links.MOST_MISSES)
    page.goto(f"{stranger}?lang={language}")
    looking.checked(page, f"link-throttled-{language}")


def test_unsubscribe_page_passes_axe_and_posts(
    open_page: Open, live_server: Any, installed: Job
) -> None:
    token = unsubscribe_token(installed.site.customer_id, "email")
    page = open_page(f"{live_server.url}/u/{token}", script=True)
    looking.checked(page, "unsubscribe-ask")
    assert Consent.objects.filter(revoked_at__isnull=True).count() == 1  # it was only looked at
    page.click("main button")
    looking.checked(page, "unsubscribe-done")
    assert Consent.objects.filter(revoked_at__isnull=True).count() == 0
    page.goto(f"{live_server.url}/u/nonsense")
    looking.checked(page, "unsubscribe-unknown")


@pytest.mark.parametrize("outcome", ["Done", "Could not do it", "Something is wrong"])
def test_logging_takes_at_most_three_taps_and_save(
    open_page: Open, home: str, outcome: str
) -> None:
    """Every tap hits what is in the window of a phone; scrolling is left to the page's links."""
    page = open_page(home)
    taps = 0
    for target in ("nav >> text=How did it go?", f"label:has-text('{outcome}')"):
        taps += 1
        _tap(page, target)
    _tap(page, "#care button")
    page.wait_for_selector("#saved")
    assert taps <= 3
    assert CareLog.objects.count() == 1


def _tap(page: Any, target: str) -> None:
    """Tap without scrolling first: what a finger cannot see it cannot hit."""
    page.wait_for_timeout(100)
    box = page.locator(target).bounding_box()
    middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    if not 0 < middle[1] < looking.PHONE["height"]:
        page.mouse.wheel(0, middle[1] - looking.PHONE["height"] / 2)
        page.wait_for_timeout(100)
        box = page.locator(target).bounding_box()
        middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.click(*middle)


def test_something_wrong_names_the_number_and_holds_the_wrench(
    open_page: Open, home: str, installed: Job
) -> None:
    page = open_page(home)
    page.click("text=Something is wrong")
    page.click("#care button")
    assert "555-0100" in page.inner_text("#saved")
    assert page.is_visible("text=Please do not tighten now")
    assert installed.visit_requests.get().severity == 4


def test_every_form_works_without_script(
    open_page: Open, home: str, installed: Job, tmp_path: Path
) -> None:
    page = open_page(home, script=False)
    page.click("text=Done")
    page.click("#care button")
    assert "re-tightened" in page.inner_text("#saved")
    page.fill("#place-0", '1 3/16"')
    page.click("#readings button")
    file = tmp_path / "wall.png"
    Image.new("RGB", (300, 200), "gray").save(file)
    page.set_input_files("#photo", str(file))
    page.click("button >> text=Send the photo")
    page.click("#visit button")
    page.check("[name=channel][value=text]")
    page.click("button >> text=Change")
    assert "how we will reach you" in page.inner_text("#saved")
    assert Consent.objects.get(revoked_at__isnull=True).channel == "text"
    page.click("button >> text=No more reminders")
    assert "no more reminders" in page.inner_text("#saved")
    assert CareLog.objects.get().outcome == "done"
    assert Reading.objects.filter(source="homeowner").get().value_ticks == 76
    assert Photo.objects.get().source == "homeowner"
    assert installed.visit_requests.get().reason == "asked"
    assert not Consent.objects.filter(revoked_at__isnull=True).exists()


def test_keyboard_alone_is_enough(open_page: Open, home: str) -> None:
    page = open_page(home)
    looking.tab_to(page, "document.activeElement.name === 'outcome'")
    page.keyboard.press("Space")
    looking.tab_to(page, "document.activeElement.textContent.trim() === 'Save'")
    page.keyboard.press("Enter")
    page.wait_for_selector("#saved")
    assert CareLog.objects.get().outcome == "done"
    page.goto(home)
    looking.tab_to(page, "document.activeElement.id === 'place-0'")
    page.keyboard.type("30 mm")
    page.keyboard.press("Enter")
    page.wait_for_selector("#saved")
    assert Reading.objects.filter(source="homeowner").get().value_ticks == 76


def test_refusal_takes_the_focus_and_leads_to_its_field(open_page: Open, home: str) -> None:
    page = open_page(home)
    page.fill("#place-0", "12")
    page.click("#readings button")
    assert page.evaluate("document.activeElement.id") == "errors"
    page.click("#errors a")
    assert page.evaluate("document.activeElement.id") == "place-0"
    assert page.title().startswith("Please check:")
