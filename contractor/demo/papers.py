"""Write the demonstration's drawings, sheets and a calendar to files."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from contractor.crews.feeds import crew_feed
from contractor.crews.models import Crew
from contractor.demo.loading import World
from contractor.demo.working import Told
from contractor.documents import Sheet, cut_tickets, pull_sheet, to_pdf
from inventory import sheets as stock_sheets
from inventory.models import Kit
from jobs.services import sheets


def write_papers(world: World, told: Told, folder: Path) -> list[str]:
    """Return the paths of what was written. The typesetter works beside us, in threads."""
    folder.mkdir(parents=True, exist_ok=True)
    with ThreadPoolExecutor() as pool:
        written = {
            folder / name: pool.submit(_bytes, content) for name, content in _papers(world, told)
        }
    for path, content in written.items():
        path.write_bytes(content.result())
    return [str(path) for path in written]


def _bytes(content: str | bytes | Sheet) -> bytes:
    if isinstance(content, Sheet):
        return to_pdf(content)
    return content if isinstance(content, bytes) else content.encode()


def _papers(world: World, told: Told) -> Iterator[tuple[str, str | bytes | Sheet]]:
    _, _, first = told.layouts[0]
    yield "elevation.svg", sheets.drawing(first, "elevation")
    yield "calculation-sheet.pdf", sheets.calculation_sheet(first)
    yield "install-sheet.pdf", sheets.crew_sheet(first)
    plans = [row for _, _, row in told.layouts if "framing_plan" in row.drawings]
    if plans:
        yield "framing-plan.svg", sheets.drawing(plans[0], "framing_plan")
    for plan in told.cuts[:1]:
        cut_list = stock_sheets.cut_list(plan, units="us")
        yield "cut-tickets.pdf", cut_tickets.render(cut_list, stock_sheets.labels(plan, units="us"))
    kit = Kit.objects.order_by("pk").first()
    if kit is not None:
        yield "pull-sheet.pdf", pull_sheet.render(stock_sheets.pull_sheet(kit, units="us"))
    crew = Crew.objects.order_by("pk")[0]
    yield "crew.ics", crew_feed(crew, shows_addresses=True, today=world.today)
