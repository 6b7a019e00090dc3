"""Choose the places that meet needs, from what is available now. Reads only, locks nothing."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import F, Max, Q, QuerySet

from contractor.api.models import Branch
from contractor.engine.units import format_length
from inventory.amounts import Need
from inventory.errors import PieceTooLongError
from inventory.locks import PLACE_TABLES, PlaceKey
from inventory.models import Offcut, Part, Place, StockLength, StockLevel, SupplierPart
from inventory.packing import FreeBars, longest_piece, pack

LEVEL, LENGTH, OFFCUT = range(len(PLACE_TABLES))


@dataclass(frozen=True)
class Hold:
    """``quantity`` units or bars of a place; a bar shared by several lines names none."""

    place: PlaceKey
    part_pk: int
    quantity: int
    kit_line_pk: int | None = None


@dataclass(frozen=True)
class Shortage:
    """Units, or pieces of ``length_ticks``, that nothing available covers."""

    part_pk: int
    length_ticks: int
    wanted: int
    short: int


def usable(places: QuerySet[Place], on: date) -> QuerySet[Place]:
    """Leave out what is all reserved and what has expired before ``on``."""
    fresh = Q(lot__isnull=True) | Q(lot__expires_on__isnull=True) | Q(lot__expires_on__gte=on)
    return places.filter(fresh, on_hand__gt=F("reserved"))


def choose(
    branch: Branch, needs: Sequence[Need], parts: Mapping[int, Part], on: date
) -> tuple[list[Hold], list[Shortage]]:
    """Return holds that meet ``needs``, and what is short; lots that expire first go first."""
    units = [need for need in needs if not parts[need.part_pk].is_bar]
    bars: dict[int, list[Need]] = defaultdict(list)
    for need in needs:
        if parts[need.part_pk].is_bar:
            bars[need.part_pk].append(need)
    holds, short = _choose_units(branch.pk, units, on)
    for part_pk in sorted(bars):
        more, missing = _choose_bars(branch.pk, parts[part_pk], bars[part_pk], on)
        holds += more
        short += missing
    return holds, short


def _choose_units(
    branch_pk: int, needs: Sequence[Need], on: date
) -> tuple[list[Hold], list[Shortage]]:
    rows: dict[int, list[list[int]]] = defaultdict(list)
    levels = StockLevel.objects.filter(branch_id=branch_pk, part__in={n.part_pk for n in needs})
    ordered = usable(levels, on).order_by(F("lot__expires_on").asc(nulls_last=True), "pk")
    for pk, part_pk, on_hand, reserved in ordered.values_list("pk", "part", "on_hand", "reserved"):
        rows[part_pk].append([pk, on_hand - reserved])
    holds: list[Hold] = []
    short: list[Shortage] = []
    for need in needs:
        missing = need.quantity
        for row in rows[need.part_pk]:
            if (taken := min(missing, row[1])) > 0:
                holds.append(Hold((LEVEL, row[0]), need.part_pk, taken, need.kit_line_pk))
                row[1] -= taken
                missing -= taken
        if missing:
            short.append(Shortage(need.part_pk, 0, need.quantity, missing))
    return holds, short


def free_bars(branch_pk: int, part_pk: int, on: date) -> list[FreeBars[PlaceKey]]:
    """Return what can be sawn and is not reserved, in a stable order."""
    mine = {"branch_id": branch_pk, "part_id": part_pk}
    full = usable(StockLength.objects.filter(**mine), on).order_by("length_ticks", "pk")
    ends = usable(Offcut.objects.filter(**mine), on).order_by("length_ticks", "pk")
    bars = [FreeBars((LENGTH, row.pk), row.unit_quantity, row.available) for row in full]
    return bars + [FreeBars((OFFCUT, row.pk), row.unit_quantity, 1, True) for row in ends]


def _choose_bars(
    branch_pk: int, part: Part, needs: Sequence[Need], on: date
) -> tuple[list[Hold], list[Shortage]]:
    pieces = [(need, need.length_ticks) for need in needs for _ in range(need.quantity)]
    packed = pack(
        [length for _, length in pieces],
        free_bars(branch_pk, part.pk, on),
        kerf=part.kerf_ticks,
        end_trim=part.end_trim_ticks,
    )
    used: dict[PlaceKey, int] = defaultdict(int)
    for place, _ in packed.bars:
        used[place] += 1
    holds = [Hold(place, part.pk, count) for place, count in sorted(used.items())]
    missing: dict[int, int] = defaultdict(int)
    wanted: dict[int, int] = defaultdict(int)
    for _, length in pieces:
        wanted[length] += 1
    for index in packed.unmet:
        missing[pieces[index][1]] += 1
    return holds, [
        Shortage(part.pk, length, wanted[length], count) for length, count in missing.items()
    ]


def check_pieces_fit(branch_pk: int, needs: Iterable[Need], parts: Mapping[int, Part]) -> None:
    """Refuse a piece longer than every bar that the branch has or can buy: PieceTooLongError.

    A part that nobody has ever stocked or priced is merely short.
    """
    longest = longest_bars(branch_pk, [part for part in parts.values() if part.is_bar])
    for need in needs:
        part = parts[need.part_pk]
        if part.pk not in longest:
            continue
        room = longest_piece(longest[part.pk], end_trim=part.end_trim_ticks)
        if need.length_ticks > room:
            raise PieceTooLongError(
                f"A piece of {format_length(need.length_ticks)} does not come out of the longest "
                f"bar of {part.code}, {format_length(longest[part.pk])}.",
                remedy="Choose a part with longer bars, or splice by an engineer's detail.",
                part=part.code,
                length=format_length(need.length_ticks),
            )


def longest_bars(branch_pk: int, parts: Sequence[Part]) -> dict[int, int]:
    """Return part pk -> the longest bar known: on hand, or on a supplier's price list.

    Parts of which no bar is known are left out.
    """
    longest: dict[int, int] = {}
    for rows in (
        StockLength.objects.filter(branch_id=branch_pk, part__in=parts),
        Offcut.objects.filter(branch_id=branch_pk, part__in=parts, on_hand=1),
        SupplierPart.objects.filter(part__in=parts),
    ):
        most = rows.order_by().values_list("part").annotate(most=Max("length_ticks"))
        for pk, ticks in most:
            longest[pk] = max(ticks or 0, longest.get(pk, 0))
    return {pk: ticks for pk, ticks in longest.items() if ticks}
