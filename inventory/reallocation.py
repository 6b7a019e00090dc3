"""Who could give way when a severe job is short: what they lose, and until when."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from contractor.api.models import Branch
from inventory.allocation import LENGTH, choose, free_bars
from inventory.amounts import Need
from inventory.holding import place_of
from inventory.models import Kit, Offcut, Part, Reservation, ReservationLine, StockLength
from inventory.packing import FreeBars, pack
from inventory.promising import (
    Promise,
    Rank,
    Supply,
    WhatIf,
    open_lines,
    promise,
    whole,
)


@dataclass(frozen=True)
class Loss:
    """``quantity`` (units, or bars and offcuts) of a part that a donor would give up."""

    part_pk: int
    quantity: int
    promise: Promise | None


@dataclass(frozen=True)
class Proposal:
    """One donor; ``until`` is when it could be served again, None if nothing known serves it."""

    kit_pk: int
    priority: int
    losses: tuple[Loss, ...]
    until: date | None


def proposals(kit: Kit, *, on: date) -> list[Proposal]:
    """Return the donors that together let ``kit`` be reserved; [] if it is not short or none do.

    Donors are reserved kits of a lower priority that nobody pulls: the lowest priority and the
    latest day give first, and nobody gives who need not.
    """
    needs, parts = _needs(kit)
    _, short = choose(kit.branch, needs, parts, on)
    contested = sorted({one.part_pk for one in short})
    if not contested:
        return []
    donors = _donors(kit, contested)
    chosen = _enough(kit, needs, parts, contested, donors, on)
    return [_proposal(kit, donor, chosen, contested, on) for donor in chosen]


def _needs(kit: Kit) -> tuple[list[Need], dict[int, Part]]:
    needs: list[Need] = []
    parts: dict[int, Part] = {}
    for line, count in open_lines(kit.lines.select_related("part").order_by("pk")):
        parts[line.part_id] = line.part
        needs.append(Need(line.part_id, count, line.length_ticks))
    return needs, parts


@dataclass(frozen=True)
class _Donor:
    kit: Kit
    holds: tuple[ReservationLine, ...]

    @property
    def gives_first(self) -> tuple[int, int, int]:
        day = self.kit.needed_on.toordinal() if self.kit.needed_on else date.max.toordinal()
        return self.kit.priority, -day, -self.kit.pk


def _donors(kit: Kit, contested: Sequence[int]) -> list[_Donor]:
    lines = (
        ReservationLine.objects.filter(
            reservation__status=Reservation.Status.HELD,
            reservation__kit__branch=kit.branch_id,
            reservation__kit__status=Kit.Status.RESERVED,
            reservation__kit__priority__lt=kit.priority,
            part__in=contested,
            outstanding__gt=0,
        )
        .select_related("reservation__kit")
        .order_by("pk")
    )
    holds: dict[int, list[ReservationLine]] = {}
    kits: dict[int, Kit] = {}
    for line in lines:
        donor = line.reservation.kit
        assert donor is not None  # filtered by its branch
        kits[donor.pk] = donor
        holds.setdefault(donor.pk, []).append(line)
    found = [_Donor(kits[pk], tuple(holds[pk])) for pk in kits if not _is_planned(kits[pk])]
    return sorted(found, key=lambda donor: donor.gives_first)


def _is_planned(kit: Kit) -> bool:
    return kit.cutting_plans.filter(status__in=("draft", "frozen")).exists()


def _enough(
    kit: Kit,
    needs: Sequence[Need],
    parts: Mapping[int, Part],
    contested: Sequence[int],
    donors: Sequence[_Donor],
    on: date,
) -> list[_Donor]:
    """Return as few donors as the order of giving allows; [] when all together are too few."""

    def is_met(some: Sequence[_Donor]) -> bool:
        return all(_is_part_met(kit, parts[pk], needs, some, on) for pk in contested)

    chosen: list[_Donor] = []
    for donor in donors:
        chosen.append(donor)
        if is_met(chosen):
            break
    else:
        return []
    for donor in list(chosen):
        rest = [one for one in chosen if one is not donor]
        if rest and is_met(rest):
            chosen = rest
    return chosen


def _is_part_met(
    kit: Kit, part: Part, needs: Sequence[Need], donors: Sequence[_Donor], on: date
) -> bool:
    mine = [need for need in needs if need.part_pk == part.pk]
    holds = [line for donor in donors for line in donor.holds if line.part_id == part.pk]
    if not part.is_bar:
        _, short = choose(kit.branch, mine, {part.pk: part}, on)
        return sum(one.short for one in short) <= sum(line.outstanding for line in holds)
    pieces = [need.length_ticks for need in mine for _ in range(need.quantity)]
    bars = free_bars(kit.branch_id, part.pk, on) + [_bars_of(line) for line in holds]
    return not pack(pieces, bars, kerf=part.kerf_ticks, end_trim=part.end_trim_ticks).unmet


def _bars_of(line: ReservationLine) -> FreeBars[tuple[int, int]]:
    rank, pk = place_of(line)
    table = StockLength if rank == LENGTH else Offcut
    length = table._default_manager.values_list("length_ticks", flat=True).get(pk=pk)
    return FreeBars((-2 - rank, line.pk), length, line.outstanding, rank != LENGTH)


def _proposal(
    kit: Kit,
    donor: _Donor,
    chosen: Sequence[_Donor],
    contested: Sequence[int],
    on: date,
) -> Proposal:
    """Promise the donor's contested needs anew, after donors that come before it.

    The taker is an open kit of a higher priority, so ``promise`` serves it first by itself.
    """
    branch: Branch = kit.branch
    lost, parts = _held_needs(donor, contested)
    before = [one for one in chosen if one.gives_first > donor.gives_first]
    first = [need for one in before for need in _held_needs(one, contested)[0]]
    rank = Rank(donor.kit.priority, donor.kit.needed_on, donor.kit.pk)
    what_if = WhatIf(_freed(chosen, on), first)
    promises = promise(branch, lost, parts, on=on, rank=rank, what_if=what_if)
    by_part = {one.part_pk: one for one in promises}
    given: dict[int, int] = {}
    for line in donor.holds:
        given[line.part_id] = given.get(line.part_id, 0) + line.outstanding
    losses = tuple(Loss(pk, given[pk], by_part.get(pk)) for pk in sorted(given))
    return Proposal(donor.kit.pk, donor.kit.priority, losses, whole(promises))


def _held_needs(donor: _Donor, contested: Sequence[int]) -> tuple[list[Need], dict[int, Part]]:
    needs: list[Need] = []
    parts: dict[int, Part] = {}
    lines = donor.kit.lines.filter(part__in=contested).select_related("part").order_by("pk")
    for line, count in open_lines(lines):
        parts[line.part_id] = line.part
        needs.append(Need(line.part_id, count, line.length_ticks))
    return needs, parts


def _freed(donors: Sequence[_Donor], on: date) -> dict[int, list[Supply]]:
    freed: dict[int, list[Supply]] = {}
    for donor in donors:
        for line in donor.holds:
            length = 0 if line.stock_level_id else _bars_of(line).length_ticks
            supply = Supply(on, length, line.outstanding, "release")
            freed.setdefault(line.part_id, []).append(supply)
    return freed
