"""The report that ``manage.py demo`` prints: what a contractor would like to read on Monday."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from contractor.crews.models import CrewPlan
from contractor.demo.loading import World
from contractor.demo.working import Told, week_of
from contractor.engine.units import format_length
from inventory.errors import InsufficientStockError
from inventory.models import CuttingPlan
from jobs.models import BraceLayout

WIDTH = 96


def report(world: World, told: Told, drawings: Iterable[str]) -> str:
    """Return the whole report as text."""
    sections = [
        ("Walls: layout and screening", _walls(told)),
        ("Materials and cost", _costs(told)),
        ("Stock: what was short", _shortages(told)),
        ("Saw: cutting plans", _cuts(told)),
        ("Crews: the next weeks", _crews(told)),
        ("Installed, and what follows", _install(told)),
        ("Is the wall coming back?", _movement(told)),
        ("Drawings and sheets", (f"  {path}" for path in drawings)),
    ]
    head = f"{world.company.name}, {world.today:%A %d %B %Y}"
    lines = [head, "=" * len(head)]
    for title, body in sections:
        lines += ["", title, "-" * len(title), *body]
    lines += ["", "Screening is not engineering design: local code and a licensed engineer decide."]
    return "\n".join(line[:200] for line in lines)


def _walls(told: Told) -> Iterator[str]:
    for site, wall, row in told.layouts:
        layout, screening = row.layout, row.screening
        spacing = layout["largest_spacing"]
        governs = screening["governing"]
        yield (
            f"  {site}, {wall}: {row.brace_count} braces of {screening['beam']['shape']}, "
            f"largest spacing {spacing['text'] if spacing else '-'}: {screening['outcome']}"
        )
        if governs:
            yield f"      governs: {governs['title'].lower()} at {governs['utilization']:.0%}"
        for reason in screening["reasons"][:4]:
            yield f"      stop: {reason['text']}"
        for brace in _moved(row):
            because = " ".join(brace["because"][:2])
            yield f"      {brace['mark']} at {brace['at']['text']}: {because}"


def _moved(row: BraceLayout) -> list[dict[str, Any]]:
    """Return the braces that something unusual shaped: a fixture, furring, a window."""
    return [brace for brace in row.layout["braces"] if brace["specials"]][:2]


def _costs(told: Told) -> Iterator[str]:
    total = 0
    for site, wall, row in told.layouts:
        total += row.cost_cents
        yield (
            f"  {site}, {wall}: {row.weight_lb:,.0f} lb, {row.labour_minutes / 60:.1f} h of "
            f"labour, {_money(row.cost_cents)}"
        )
    yield f"  all walls: ${total / 100:,.2f}"


def _shortages(told: Told) -> Iterator[str]:
    for label, refusal in told.shortages:
        yield f"  {label}: {_short(refusal)}"
    for order in told.orders:
        for line in order.lines.select_related("part"):
            yield (
                f"  ordered {line.quantity} x {format_length(line.length_ticks)} of "
                f"{line.part.code} from {order.supplier.name}, promised {line.promised_on}; "
                "received, then everything was reserved"
            )
    if not told.shortages:
        yield "  nothing"


def _short(refusal: InsufficientStockError) -> str:
    rows = refusal.facts["shortages"]
    return ", ".join(f"short {row['short']} of {row['part']}" for row in rows)


def _cuts(told: Told) -> Iterator[str]:
    for plan in told.cuts:
        bars = list(plan.bars.prefetch_related("pieces").order_by("number"))
        yield (
            f"  {plan.branch.name}, {plan.part.code}: {len(bars)} bars, "
            f"cost {_money(plan.cost_cents)}, no plan is below {_money(plan.bound_cents)}"
            f"{': proven best' if plan.is_proven else ''}"
        )
        if plan.part.role == "beam":
            yield from _patterns(plan)


def _patterns(plan: CuttingPlan) -> Iterator[str]:
    for bar in plan.bars.prefetch_related("pieces").order_by("number"):
        pieces = [format_length(piece.length_ticks) for piece in bar.pieces.all()]
        left = format_length(bar.left_ticks)
        kept = " kept" if bar.is_kept else ""
        source = "offcut" if bar.offcut_id else "bar"
        sawn = f"{' + '.join(pieces)}, left {left}{kept}"
        yield f"      {source} {format_length(bar.length_ticks):>10}: {sawn}"


def _money(cents: int | None) -> str:
    return "unknown" if cents is None else f"${cents / 100:,.2f}"


def _crews(told: Told) -> Iterator[str]:
    for plan in told.plans:
        yield f"  {plan.branch.name}: cost {plan.cost}, no plan is below {plan.bound}{_proof(plan)}"
        for crew, day, half, count, site in week_of(plan):
            yield f"      {day:%a %d %b} {half}  {crew:<11} {count} half-days at {site}"
        for left in plan.report.get("left_out", []):
            yield f"      job {left['job']} is not in the plan: {left['reason']}"


def _proof(plan: CrewPlan) -> str:
    return ": proven best" if plan.is_proven else ""


def _install(told: Told) -> Iterator[str]:
    install = told.install
    assert install is not None
    braces = list(install.braces.order_by("pk"))
    torque = min(brace.torque_lbf_ft or 0 for brace in braces)
    yield (
        f"  {install.job.site.label}: {len(braces)} braces stand since {install.installed_on}, "
        f"tightened to {torque:g} lbf ft, signed off by {install.signed_off_by}"
    )
    for reminder in told.reminders[:6]:
        yield (
            f"      {reminder.due_on}  {reminder.reason}; leaves not before "
            f"{reminder.not_before:%H:%M} UTC"
        )
    if len(told.reminders) > 6:
        yield f"      and {len(told.reminders) - 6} more"


def _movement(told: Told) -> Iterator[str]:
    verdict = told.movement
    if verdict is None:
        yield "  no readings yet"
        return
    yield f"  {verdict['name']}: {verdict['verdict']}"
    yield f"      {verdict['reason']}"
    due = verdict["next_reading"]
    yield f"      next reading {due['on']}: {due['because']}"
