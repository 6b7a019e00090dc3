"""The kit leaves on a truck; what comes back goes to its place again."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from contractor.api.events import record
from contractor.api.transactions import service
from contractor.errors import InvalidValueError, NotFoundError
from inventory import locks
from inventory.amounts import check_quantity
from inventory.errors import MoreThanWantedError
from inventory.holding import let_go, place_of
from inventory.models import (
    Balance,
    Kit,
    KitLine,
    LedgerEntry,
    Place,
    Reservation,
    ReservationLine,
)
from inventory.posting import Note, post, take_out
from inventory.services.reserving import refuse_if_planned
from inventory.states import move_kit, move_reservation
from inventory.stocking import new_offcut

SETTLED = ["returned", "scrapped", "scrapped_at", "scrap_reason", "used", "cents"]


@service
def load(kit_pk: int, *, at: datetime, if_match: int | None = None) -> Kit:
    """Put a staged kit on the truck: its units leave stock at the moving average.

    Sawn pieces left stock at the saw. What the kit held beyond what was pulled is released.
    """
    kit = locks.lock_kit(kit_pk)
    kit.expect_version(if_match)
    refuse_if_planned(kit)
    move_kit(kit, Kit.Status.LOADED)
    held = locks.lock_holds_of([kit])
    lines = {line.pk: line for line in kit.lines.select_related("part").order_by("pk")}
    for reservation in held:
        _issue(kit, reservation, lines, Note(at, reference=f"kit {kit.reference}"))
    KitLine.objects.bulk_update(lines.values(), ["cents"])
    kit.save(update_fields=["status"])
    record("kit.loaded", kit, branch=kit.branch)
    return kit


@service
def use_kit(kit_pk: int, *, if_match: int | None = None) -> Kit:
    """Everything that was loaded has been used."""
    kit = locks.lock_kit(kit_pk)
    kit.expect_version(if_match)
    settle_used(kit)
    return kit


def settle_used(kit: Kit) -> None:
    """Mark a locked, loaded kit as used inside the caller's transaction."""
    move_kit(kit, Kit.Status.USED)
    for line in kit.lines.order_by("pk"):
        line.used = line.pulled
        line.save(update_fields=["used"])
    kit.save(update_fields=["status"])
    record("kit.used", kit, branch=kit.branch)


@service
def return_kit(
    kit_pk: int,
    returned: Mapping[int, int],
    *,
    at: datetime,
    scrapped: Mapping[int, int] | None = None,
    reason: str = "",
    if_match: int | None = None,
) -> Kit:
    """Take back ``returned``, write off ``scrapped`` (kit line pk -> quantity); the rest was used.

    Units go back where they came from at the cost at which they left; a piece becomes an
    offcut with a tag. What was spoiled on site, for ``reason``, had left stock at loading:
    nothing moves, and its cents stay with the kit.
    """
    kit = locks.lock_kit(kit_pk)
    kit.expect_version(if_match)
    move_kit(kit, Kit.Status.RETURNED)
    spoiled = scrapped or {}
    lines = {line.pk: line for line in kit.lines.select_related("part").order_by("pk")}
    _check_settled(kit, lines, returned, spoiled)
    _check_why(returned, spoiled, reason.strip())
    _take_back(kit, lines, returned, Note(at, reference=f"kit {kit.reference}"))
    for pk, quantity in spoiled.items():
        line = lines[pk]
        line.scrapped, line.scrapped_at, line.scrap_reason = quantity, at, reason.strip()
    for line in lines.values():
        line.used = line.pulled - line.returned - line.scrapped
        line.save(update_fields=SETTLED)
    kit.save(update_fields=["status"])
    record("kit.returned", kit, branch=kit.branch, lines=len(returned), scrapped=len(spoiled))
    return kit


def _issue(kit: Kit, reservation: Reservation, lines: dict[int, KitLine], note: Note) -> None:
    holds = list(reservation.lines.filter(outstanding__gt=0).order_by("pk"))
    leaving = {line.pk: line.pulled for line in lines.values() if not line.part.is_bar}
    heads = locks.lock_balances(kit.branch_id, [one.part_id for one in holds])
    places = locks.lock_places(place_of(one) for one in holds)
    for one in holds:
        count = min(one.outstanding, leaving.get(one.kit_line_id or 0, 0))
        if not count or one.kit_line_id is None:
            continue
        entry = take_out(
            heads[one.part_id],
            places[place_of(one)],
            LedgerEntry.Kind.ISSUE,
            note,
            count=count,
            unreserve=count,
        )
        leaving[one.kit_line_id] -= count
        lines[one.kit_line_id].cents -= entry.cents
        one.outstanding -= count
        one.issued += count
    ReservationLine.objects.bulk_update(holds, ["outstanding", "issued"])
    let_go(holds)
    move_reservation(reservation, Reservation.Status.CONSUMED)
    reservation.save(update_fields=["status"])


def _check_settled(
    kit: Kit,
    lines: Mapping[int, KitLine],
    returned: Mapping[int, int],
    scrapped: Mapping[int, int],
) -> None:
    for name, given in (("lines", returned), ("scrapped", scrapped)):
        for pk, quantity in given.items():
            if pk not in lines:
                raise NotFoundError(
                    f"Kit {kit.reference} has no line {pk}.", remedy="Name a line of this kit."
                )
            check_quantity(quantity, f"#/{name}")
    for pk, line in lines.items():
        back, spoiled = returned.get(pk, 0), scrapped.get(pk, 0)
        if back + spoiled > line.pulled:
            and_spoiled = f", {spoiled} were scrapped" if spoiled else ""
            raise MoreThanWantedError(
                f"{back} of {line.part.code} come back{and_spoiled}, {line.pulled} were loaded.",
                remedy="Count again; found goods are booked by a count.",
            )


def _check_why(returned: Mapping[int, int], scrapped: Mapping[int, int], reason: str) -> None:
    if not returned and not scrapped:
        raise InvalidValueError(
            "Nothing comes back and nothing was scrapped.",
            remedy="Name the lines, or say that all of the kit was used.",
            pointer="#/lines",
        )
    if bool(scrapped) != bool(reason):
        fault = "What was scrapped needs a reason." if scrapped else "Nothing was scrapped."
        remedy = "Say why." if scrapped else "Name what was scrapped, or leave out the reason."
        raise InvalidValueError(fault, remedy=remedy, pointer="#/reason")


def _take_back(
    kit: Kit, lines: Mapping[int, KitLine], returned: Mapping[int, int], note: Note
) -> None:
    heads = locks.lock_balances(kit.branch_id, [lines[pk].part_id for pk in returned])
    issued = _issued(kit, returned)
    places = locks.lock_places(place_of(one) for one in issued)
    for pk in sorted(returned):
        line = lines[pk]
        value = line.cents * returned[pk] // line.pulled
        if line.part.is_bar:
            _pieces_back(kit, line, returned[pk], value, heads, note)
        else:
            sources = [one for one in issued if one.kit_line_id == pk]
            _units_back(line, returned[pk], value, sources, places, heads, note)
        line.returned = returned[pk]
        line.cents -= value


def _issued(kit: Kit, returned: Mapping[int, int]) -> list[ReservationLine]:
    """Return what was issued on the lines, last issued first."""
    rows = ReservationLine.objects.filter(reservation__kit=kit, kit_line__in=returned, issued__gt=0)
    return list(rows.order_by("-pk"))


def _units_back(
    line: KitLine,
    quantity: int,
    value: int,
    sources: list[ReservationLine],
    places: Mapping[locks.PlaceKey, Place],
    heads: Mapping[int, Balance],
    note: Note,
) -> None:
    left, left_cents = quantity, value
    for one in sources:
        count = min(left, one.issued)
        cents = left_cents if count == left else value * count // quantity
        if count:
            place = places[place_of(one)]
            kind = LedgerEntry.Kind.RETURN
            post(heads[line.part_id], place, kind, note, change=count, cents=cents)
        left -= count
        left_cents -= cents


def _pieces_back(
    kit: Kit,
    line: KitLine,
    quantity: int,
    value: int,
    heads: Mapping[int, Balance],
    note: Note,
) -> None:
    for number in range(quantity):
        share = value // quantity + (1 if number < value % quantity else 0)
        offcut = new_offcut(kit.branch_id, line.part, length_ticks=line.length_ticks, at=note.at)
        kind = LedgerEntry.Kind.RETURN
        post(heads[line.part_id], offcut, kind, note, change=1, cents=share)
