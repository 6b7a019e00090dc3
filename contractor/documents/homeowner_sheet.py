"""The sheet that stays with the homeowner: how to re-tighten, when to stop, whom to call."""

from __future__ import annotations

from datetime import date

from contractor.documents.codes import qr_svg
from contractor.documents.sheet import (
    Block,
    Caution,
    Column,
    Facts,
    Heading,
    Listing,
    Paragraph,
    Picture,
    Sheet,
    Table,
)

CAUTION = (
    "The braces were screened, which is not engineering design. If in doubt, ask a licensed "
    "engineer."
)
STEPS: tuple[str, ...] = (
    "Stand on the floor, not on a ladder's top step. Keep children and pets away.",
    "Set the torque wrench to the value above. Put its socket on the bolt at the brace's top.",
    "Turn clockwise, slowly, until the wrench clicks once. Then stop: never past the click.",
    "Do every brace, starting in the middle of the wall and working outwards.",
    "Write date and value in the table, or enter them on the page behind the code.",
)
STOP: tuple[str, ...] = (
    "the bolt turns more than a full turn without a click;",
    "a joist creaks, splits or lifts, or the bracket slips;",
    "a crack is new, wider, or water comes in;",
    "the wall has moved inwards since the last reading.",
)


def render(
    *,
    company: str,
    phone: str,
    site: str,
    torque_text: str,
    marks: tuple[str, ...],
    installed_on: date,
    due_on: tuple[date, ...] = (),
    page_url: str = "",
    chart_svg: str = "",
    narrow_chart_svg: str = "",
) -> Sheet:
    """Return the sheet; ``page_url`` makes the code, ``chart_svg`` the movement chart."""
    blocks: list[Block] = [
        Paragraph(f"Tighten to {torque_text}. Never more.", is_strong=True, is_large=True),
        Paragraph(
            "A braced wall comes back slowly, over years of dry seasons, or it stays where it is. "
            "Force does not make it faster; it breaks things."
        ),
        Heading("How"),
        Listing(STEPS, is_numbered=True),
        Caution(STOP, f"Stop, and call {company} at {phone}, when"),
        Heading("Your braces"),
        Facts((("Braces", ", ".join(marks)), ("Installed", _day(installed_on)))),
        _log(marks, due_on),
    ]
    if page_url:
        blocks.append(Picture(qr_svg(page_url), f"Code of {page_url}", 0.18))
        blocks.append(Paragraph(f"Enter readings here: {page_url}"))
    if chart_svg:
        blocks += [Heading("How the wall moves", is_new_page=True)]
        blocks.append(Picture(chart_svg, "Movement of the wall", narrow=narrow_chart_svg))
    return Sheet(f"Your wall braces, {site}", company, tuple(blocks), caution=CAUTION)


def _log(marks: tuple[str, ...], due_on: tuple[date, ...]) -> Table:
    """Return a table to fill in: due dates down, braces across."""
    shown = marks[:8]
    columns = (
        Column("Due", 3),
        Column("Done on", 3),
        *(Column(mark, 2, "center") for mark in shown),
    )
    rows = [(_day(day), "", *([""] * len(shown))) for day in due_on]
    rows += [("", "", *([""] * len(shown)))] * max(2, 4 - len(rows))
    return Table(columns, tuple(rows), is_form=True)


def _day(day: date) -> str:
    return f"{day.day} {day:%B} {day.year}"
