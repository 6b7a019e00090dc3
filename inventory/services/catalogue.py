"""Load a ``parts-catalogue/1`` document: parts, and the prices of one supplier."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from contractor.api import audit
from contractor.api.models import Company
from contractor.api.transactions import service
from contractor.engine import units
from contractor.engine.errors import InputError
from contractor.errors import NotFoundError
from inventory.models import Part, Supplier, SupplierPart

SCHEMA = "parts-catalogue/1"
LIMITS = {"kind": 12, "code": 60, "description": 200, "role": 40, "profile": 40, "grade": 40}
COLUMNS = ("code", "kind", "description", "role", "profile", "grade")
ROW_MEMBERS = {*COLUMNS, "weight", "weight_per_length", "stock", "pack", "price_cents"}
ROW_MEMBERS |= {"lead_time_days", "unit_of_use", "kerf", "end_trim", "min_offcut"}
ROW_MEMBERS |= {"shelf_life_days"}
OFFERED = ("pack_size", "pack_cents", "lead_days")


@service
def load_catalogue(
    document: Mapping[str, Any], *, company_pk: int, supplier_name: str = "List price supplier"
) -> int:
    """Create or update the company's parts from ``document``; return how many.

    Loading the same document twice changes nothing. Members that we have no column for are
    kept in ``Part.facts``. Raises InputError for what cannot be read.
    """
    company = Company.objects.filter(pk=company_pk).first()
    if company is None:
        raise NotFoundError(f"There is no company {company_pk}.")
    rows = _rows(document)
    supplier, _ = Supplier.objects.get_or_create(company=company, name=supplier_name)
    offers: dict[tuple[int, int], SupplierPart] = {}
    known = _known_parts(company, rows)
    for number, row in enumerate(rows):
        pointer = f"/parts/{number}"
        part = _store_part(company, known, row, pointer)
        found = _offers(supplier, part, row, pointer)
        offers |= {(part.pk, offer.length_ticks): offer for offer in found}
    _note_changes(supplier, offers)
    SupplierPart.objects.bulk_create(
        offers.values(),
        update_conflicts=True,
        unique_fields=["supplier", "part", "length_ticks"],
        update_fields=[*OFFERED],
    )
    return len(rows)


def _note_changes(supplier: Supplier, offers: Mapping[tuple[int, int], SupplierPart]) -> None:
    """Write the prices that are about to change into the trail; a new price speaks for itself."""
    for row in supplier.price_list.select_for_update().order_by("pk"):
        offer = offers.get((row.part_id, row.length_ticks))
        if offer is not None:
            before = {name: getattr(row, name) for name in OFFERED}
            audit.record(row, "changed", before, {name: getattr(offer, name) for name in OFFERED})


def _offers(
    supplier: Supplier, part: Part, row: Mapping[str, Any], pointer: str
) -> list[SupplierPart]:
    lead_days = _whole(row, "lead_time_days", pointer)
    return [
        SupplierPart(
            supplier=supplier,
            part=part,
            length_ticks=length_ticks,
            pack_size=pack_size,
            pack_cents=cents,
            lead_days=lead_days,
        )
        for length_ticks, pack_size, cents in _prices(row, part, pointer)
    ]


def _rows(document: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    if not isinstance(document, Mapping) or document.get("schema") != SCHEMA:
        raise InputError("unknown_schema", "/schema", f"This is not {SCHEMA}.", f"Send {SCHEMA}.")
    rows = document.get("parts")
    if not isinstance(rows, list) or not all(isinstance(row, Mapping) for row in rows):
        raise InputError("not_a_list", "/parts", "A list of parts is needed.", "Send [{...}].")
    codes = [row.get("code") for row in rows]
    for number, code in enumerate(codes):
        if code in codes[:number]:
            reason = f"The code {code!r} is used twice."
            raise InputError("duplicate_id", f"/parts/{number}/code", reason, "Use it once.")
    return rows


def _known_parts(company: Company, rows: Sequence[Mapping[str, Any]]) -> dict[str, Part]:
    """Lock the parts that are there already; return them by code."""
    codes = [str(row.get("code")) for row in rows]
    parts = Part.objects.select_for_update().filter(company=company, code__in=codes)
    return {part.code: part for part in parts.order_by("pk")}


def _store_part(
    company: Company, known: Mapping[str, Part], row: Mapping[str, Any], pointer: str
) -> Part:
    values: dict[str, Any] = {name: row.get(name, "") for name in COLUMNS if name != "code"}
    part = known.get(str(row.get("code")))
    _check_kind(part, row.get("kind"), f"{pointer}/kind")
    for name in COLUMNS:
        limit = LIMITS[name]
        text = row.get(name, "" if name in ("role", "profile", "grade") else None)
        if not isinstance(text, str) or len(text) > limit:
            reason = f"Text of at most {limit} characters is needed."
            raise InputError("not_text", f"{pointer}/{name}", reason, "Send text.")
    values |= _weights(row, pointer) | _lengths(row, pointer)
    values["unit_of_use"] = str(row.get("unit_of_use", "each"))
    values["pack_size"] = _pack_size(row, pointer)
    values["pack_name"] = "box" if "pack" in row else ""
    values["shelf_life_days"] = _whole(row, "shelf_life_days", pointer)
    values["facts"] = {key: value for key, value in row.items() if key not in ROW_MEMBERS}
    return _upsert(company, part, str(row["code"]), values)


def _check_kind(part: Part | None, kind: object, pointer: str) -> None:
    """Refuse an unknown kind, and another one for ``part``, whose ledger hangs on it."""
    if kind not in Part.Kind.values:
        kinds = ", ".join(Part.Kind.values)
        raise InputError("unknown_kind", pointer, "No such kind.", f"Use {kinds}.")
    if part is not None and part.kind != kind:
        reason = f"{part.code} is kept as {part.kind}, and its ledger hangs on that."
        raise InputError("kind_stays", pointer, reason, "Give the new part a code of its own.")


def _upsert(company: Company, part: Part | None, code: str, values: dict[str, Any]) -> Part:
    if part is None:
        return Part.objects.create(company=company, code=code, **values)
    changed = {name: value for name, value in values.items() if getattr(part, name) != value}
    for name, value in changed.items():
        setattr(part, name, value)
    if changed:
        part.save()
    return part


def _weights(row: Mapping[str, Any], pointer: str) -> dict[str, float | None]:
    weight, per_length = row.get("weight"), row.get("weight_per_length")
    return {
        "weight_lb": units.read_quantity(weight, "lb", f"{pointer}/weight") if weight else None,
        "weight_plf": (
            units.read_quantity(per_length, "lb/ft", f"{pointer}/weight_per_length")
            if per_length
            else None
        ),
    }


def _lengths(row: Mapping[str, Any], pointer: str) -> dict[str, int]:
    names = {
        "kerf": "kerf_ticks",
        "end_trim": "end_trim_ticks",
        "min_offcut": "min_offcut_ticks",
    }
    return {
        column: units.read_length(row[name], f"{pointer}/{name}")
        for name, column in names.items()
        if name in row
    }


def _pack_size(row: Mapping[str, Any], pointer: str) -> int:
    pack = row.get("pack")
    if pack is None:
        return 1
    if not isinstance(pack, Mapping):
        raise InputError("not_an_object", f"{pointer}/pack", "An object is needed.", "Send {...}.")
    return _whole(pack, "size", f"{pointer}/pack") or 1


def _prices(row: Mapping[str, Any], part: Part, pointer: str) -> list[tuple[int, int, int]]:
    """Return (length in ticks or 0, pack size, cents per pack) of each way to buy the part."""
    if part.is_bar:
        found = []
        for number, entry in enumerate(row.get("stock", [])):
            where = f"{pointer}/stock/{number}"
            length = units.read_length(entry.get("length"), f"{where}/length")
            found.append((length, 1, _whole(entry, "price_cents", where) or 0))
        return found
    if "pack" in row:
        cents = _whole(row["pack"], "price_cents", f"{pointer}/pack") or 0
        return [(0, part.pack_size, cents)]
    if "price_cents" in row:
        return [(0, 1, _whole(row, "price_cents", pointer) or 0)]
    return []


def _whole(row: Mapping[str, Any], name: str, pointer: str) -> int | None:
    value = row.get(name)
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= 10**10:
        reason = "A whole number of zero or more is needed."
        raise InputError("not_a_whole_number", f"{pointer}/{name}", reason, "Send one.")
    return value
