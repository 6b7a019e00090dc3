"""What a job costs: material at stock cost, labour, travel; integer cents, each line's origin."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from contractor.engine.errors import InputError
from contractor.engine.materials.backer import sticks_needed
from contractor.engine.materials.catalogue import Part, StockLength
from contractor.engine.materials.rates import Rates, Travel
from contractor.engine.materials.work import TICKS_PER_FOOT, Line, TakeOff
from contractor.engine.units import format_length

CostKind = Literal["material", "labour", "travel"]


@dataclass(frozen=True)
class CostLine:
    kind: CostKind
    what: str
    quantity: str
    cents: int
    origin: str
    part: str | None = None


@dataclass(frozen=True)
class CostSheet:
    """``hours`` are labour hours of one person, ``trips`` the crew's days on the road."""

    currency: str
    lines: tuple[CostLine, ...]
    hours: float
    trips: int

    def total(self, kind: CostKind | None = None) -> int:
        return sum(line.cents for line in self.lines if kind in (None, line.kind))


def cost_of(takeoff: TakeOff, rates: Rates, travel: Travel | None) -> CostSheet:
    """Return the cost sheet; without ``travel`` it has no travel lines."""
    lines = [_material(part, found, takeoff, rates) for part, found in _by_part(takeoff.lines)]
    lines += _saw_cuts(takeoff, rates)
    labour = _labour(takeoff, rates)
    hours = sum((quantity for quantity, _ in labour), Fraction(0))
    trips = _trips(hours, rates)
    lines += [line for _, line in labour]
    if travel is not None and trips:
        lines += _travel(travel, trips, rates)
    return CostSheet(rates.currency, tuple(lines), float(hours), trips)


def rounded_cents(cents: Fraction) -> int:
    """Return whole cents, halves up."""
    return int((2 * cents + 1) // 2)


def _by_part(lines: Iterable[Line]) -> list[tuple[Part, list[Line]]]:
    groups: dict[str, tuple[Part, list[Line]]] = {}
    for line in lines:
        groups.setdefault(line.part.code, (line.part, []))[1].append(line)
    return list(groups.values())


def _material(part: Part, lines: list[Line], takeoff: TakeOff, rates: Rates) -> CostLine:
    count = sum(line.count for line in lines)
    if not part.is_price_known:
        origin = "no price in the catalogue"
        return CostLine("material", part.description, f"{count}", 0, origin, part.code)
    if part.pack_size == 1 and part.kind != "bar":
        cents = count * part.price_cents
        origin = f"catalogue, {_money(part.price_cents)} each"
        return CostLine("material", part.description, f"{count}", cents, origin, part.code)
    if part.kind != "bar":
        cents = rounded_cents(Fraction(count * part.price_cents, part.pack_size))
        origin = f"catalogue, share of {_money(part.price_cents)} a pack of {part.pack_size}"
        return CostLine("material", part.description, f"{count}", cents, origin, part.code)
    pieces = [piece.length_ticks for line in lines for piece in line.pieces]
    if part.role == "beam":
        return _by_length(part, pieces, rates)
    return _by_stick(part, pieces, takeoff.hardware.kerf_ticks)


def _by_length(part: Part, pieces: list[int], rates: Rates) -> CostLine:
    """Beams share bars with other jobs: they cost their length and an allowance for waste."""
    stock = min(
        (s for s in part.stock if s.length_ticks >= max(pieces)),
        key=lambda s: (Fraction(s.price_cents, s.length_ticks), s.length_ticks),
    )
    share = Fraction(sum(pieces) * (100 + rates.bar_waste_percent), 100 * stock.length_ticks)
    return CostLine(
        *("material", part.description, f"{sum(pieces) / TICKS_PER_FOOT:.2f} ft"),
        cents=rounded_cents(share * stock.price_cents),
        origin=(
            f"catalogue, {_money(stock.price_cents)} a bar of {format_length(stock.length_ticks)}, "
            f"{rates.bar_waste_percent} % waste"
        ),
        part=part.code,
    )


def _by_stick(part: Part, pieces: list[int], kerf_ticks: int) -> CostLine:
    """Lumber is bought for the job: whole sticks of the length that costs least."""
    usable = [s for s in part.stock if s.length_ticks >= max(pieces)]
    if not usable:
        raise InputError(
            "piece_longer_than_stock",
            "/parts",
            f"A piece of {format_length(max(pieces))} is longer than any {part.description}.",
            "Add a longer stock length to the catalogue.",
        )

    def price(stock: StockLength) -> tuple[int, int]:
        sticks = sticks_needed(pieces, stock.length_ticks, kerf_ticks)
        return sticks * stock.price_cents, stock.length_ticks

    best = min(usable, key=price)
    sticks = sticks_needed(pieces, best.length_ticks, kerf_ticks)
    length = format_length(best.length_ticks)
    return CostLine(
        *("material", part.description, f"{sticks} sticks of {length}"),
        cents=sticks * best.price_cents,
        origin=f"catalogue, {_money(best.price_cents)} a stick of {length}",
        part=part.code,
    )


def _saw_cuts(takeoff: TakeOff, rates: Rates) -> list[CostLine]:
    cuts = sum(line.count for line in takeoff.lines if line.part.role == "beam")
    if not cuts or not rates.sawcut_cents:
        return []
    origin = f"company rates, {_money(rates.sawcut_cents)} a cut"
    return [CostLine("material", "Sawing beams", f"{cuts}", cuts * rates.sawcut_cents, origin)]


def _labour(takeoff: TakeOff, rates: Rates) -> list[tuple[Fraction, CostLine]]:
    """Return (hours, line) for each task that is done at least once."""
    if not takeoff.job_lines:
        return []
    found = []
    for task in rates.tasks:
        count = takeoff.task_count(task.per)
        hours = count * Fraction(str(task.hours))
        if not hours:
            continue
        cents = rounded_cents(hours * rates.labour_cents_per_hour)
        per = task.per.replace("_", " ")
        line = CostLine(
            *("labour", task.text, f"{float(hours):g} h", cents),
            origin=(
                f"company rates, {task.hours:g} h a {per} x {count} at "
                f"{_money(rates.labour_cents_per_hour)}/h"
            ),
        )
        found.append((hours, line))
    return found


def _trips(hours: Fraction, rates: Rates) -> int:
    crew_hours_per_day = rates.crew_size * Fraction(str(rates.hours_per_day))
    return int(-(-hours // crew_hours_per_day))


def _travel(travel: Travel, trips: int, rates: Rates) -> list[CostLine]:
    miles = 2 * trips * Fraction(str(travel.distance_mi))
    hours = 2 * trips * rates.crew_size * Fraction(str(travel.drive_min)) / 60
    days = "1 day" if trips == 1 else f"{trips} days"
    return [
        CostLine(
            *("travel", "Mileage", f"{float(miles):g} mi"),
            cents=rounded_cents(miles * rates.cents_per_mile),
            origin=f"company rates, both ways on {days} at {_money(rates.cents_per_mile)}/mi",
        ),
        CostLine(
            *("travel", "Crew on the road", f"{float(hours):.4g} h"),
            cents=rounded_cents(hours * rates.labour_cents_per_hour),
            origin=(
                f"company rates, crew of {rates.crew_size}, both ways on {days} at "
                f"{_money(rates.labour_cents_per_hour)}/h"
            ),
        ),
    ]


def _money(cents: int) -> str:
    return f"${cents // 100:,}.{cents % 100:02d}"
