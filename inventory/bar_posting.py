"""Share a sawn bar out between pieces, waste and the kept remainder, and post it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from inventory.models import (
    Balance,
    CutPiece,
    CutPlanBar,
    CuttingPlan,
    LedgerEntry,
    Offcut,
    Place,
)
from inventory.posting import Note, post, value_of
from inventory.stocking import new_offcut

Kind = LedgerEntry.Kind


@dataclass(frozen=True)
class Split:
    """Ticks and cents of one bar: pieces, waste (kerf, trim, mis-cuts), kept remainder."""

    pieces: int
    waste: int
    left: int
    piece_cents: dict[int, int]
    waste_cents: int
    left_cents: int

    @property
    def cents(self) -> int:
        """What the whole bar is worth."""
        return sum(self.piece_cents.values()) + self.waste_cents + self.left_cents


def split_bar(
    head: Balance,
    bar: CutPlanBar,
    pieces: Sequence[CutPiece],
    bad: Mapping[int, str],
    left: int,
    least: int,
) -> Split:
    """Share the bar's value out by length; the cents that are left over go with the waste.

    A remainder of at least ``least`` ticks is kept; 0 keeps none.
    """
    value, length = value_of(head, bar.length_ticks), bar.length_ticks
    good = [piece for piece in pieces if piece.pk not in bad]
    kept = left if 0 < least <= left else 0
    cents = {piece.pk: value * piece.length_ticks // length for piece in good}
    total = sum(piece.length_ticks for piece in good)
    waste = length - total - kept
    left_cents = value * kept // length
    rest = value - sum(cents.values()) - left_cents
    if not waste and good:  # nothing is wasted: the first piece takes the odd cents
        cents[good[0].pk] += rest
        rest = 0
    return Split(total, waste, kept, cents, rest, left_cents)


def post_bar(
    plan: CuttingPlan,
    bar: CutPlanBar,
    head: Balance,
    place: Place,
    split: Split,
    note: Note,
    bin_pk: int | None,
) -> None:
    pieces_cents = sum(split.piece_cents.values())
    post(
        head,
        place,
        Kind.CUT,
        note,
        change=-1,
        quantity=-split.pieces,
        cents=-pieces_cents,
        unreserve=1,
    )
    if split.waste:
        waste, cents = -split.waste, -split.waste_cents
        post(head, place, Kind.SCRAP, note, change=0, quantity=waste, cents=cents)
    if split.left:
        bar.kept_offcut = keep(plan, head, place, split.left, split.left_cents, note, bin_pk)


def keep(
    plan: CuttingPlan,
    head: Balance,
    place: Place,
    ticks: int,
    cents: int,
    note: Note,
    bin_pk: int | None,
) -> Offcut:
    """Turn ``ticks`` of the bar's steel into a tagged offcut of the same heat."""
    post(head, place, Kind.OFFCUT, note, change=0, quantity=-ticks, cents=-cents)
    offcut = new_offcut(
        plan.branch_id,
        plan.part,
        length_ticks=ticks,
        at=note.at,
        lot_pk=place.lot_id,
        bin_pk=bin_pk,
    )
    post(head, offcut, Kind.OFFCUT, note, change=1, cents=cents)
    return offcut


def post_loss(
    plan: CuttingPlan, head: Balance, place: Place, piece: CutPiece, actual: int, note: Note
) -> None:
    """Take the piece's cut back and post it as waste, or as an offcut where it is long enough."""
    length, cents = piece.length_ticks, piece.cents
    post(head, place, Kind.CUT, note, change=0, quantity=length, cents=cents)
    kept = actual if 0 < plan.min_offcut_ticks <= actual else 0
    kept_cents = cents * kept // length
    if kept:
        keep(plan, head, place, kept, kept_cents, note, None)
    if length > kept:
        lost, value = kept - length, kept_cents - cents
        if head.quantity == -lost:
            value = -head.cents
        post(head, place, Kind.SCRAP, note, change=0, quantity=lost, cents=value)
