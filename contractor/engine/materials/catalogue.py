"""The parts a contractor stocks, as data: ``parts-catalogue/1``."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Literal, cast

from contractor.engine.errors import InputError
from contractor.engine.materials.fields import (
    read_choice,
    read_count,
    read_list,
    read_object,
    read_optional_text,
    read_schema,
    read_text,
    read_texts,
)
from contractor.engine.units import read_length, read_quantity

PartKind = Literal["each", "bar", "consumable"]
ROLES: tuple[str, ...] = (
    *("beam", "top_bracket", "bottom_bracket", "tightening_bolt", "through_bolt", "nut"),
    *(
        "plate_washer",
        "washer",
        "anchor",
        "sealant",
        "furring",
        "furring_screw",
        "blocking",
        "backer",
    ),
    *("nail", "screw", "label", "homeowner_kit"),
)
NO_ROLE = "other"
_LENGTHS = ("length", "diameter", "thickness", "plate_thickness", "embedment", "width")
_MEMBERS = {
    *("code", "kind", "role", "description", "profile", "grade", "fits", "covers"),
    *("weight", "weight_per_length", "flange_width", "depth"),
    *("stock", "price_cents", "pack", "lead_time_days"),
    *_LENGTHS,
}


@dataclass(frozen=True)
class StockLength:
    length_ticks: int
    price_cents: int


@dataclass(frozen=True)
class Part:
    """One catalogue part; one without a role is stocked but never counted.

    ``weight_lb`` is that of one piece, for bars that of one foot. ``price_cents`` is for one
    piece or one pack; bars carry a price per stock length. Unstated sizes are None.
    """

    code: str
    kind: PartKind
    role: str
    description: str
    weight_lb: float
    profile: str | None = None
    grade: str | None = None
    fits: tuple[str, ...] = ()
    covers: int = 1
    length_ticks: int | None = None
    diameter_ticks: int | None = None
    thickness_ticks: int | None = None
    plate_thickness_ticks: int | None = None
    embedment_ticks: int | None = None
    width_ticks: int | None = None
    flange_width_in: float | None = None
    depth_in: float | None = None
    stock: tuple[StockLength, ...] = ()
    is_weight_known: bool = True
    price_cents: int = 0
    is_price_known: bool = True
    pack_size: int = 1
    lead_time_days: int = 0


@dataclass(frozen=True)
class Catalogue:
    name: str
    parts: tuple[Part, ...]

    def with_role(self, role: str) -> tuple[Part, ...]:
        """Return the parts of a role, without bars that come in no length."""
        return tuple(
            part for part in self.parts if part.role == role and (part.kind != "bar" or part.stock)
        )

    def one(self, role: str, wanted: str, fits: Iterable[Part] | None = None) -> Part:
        """Return the first part by code out of ``fits``; ``wanted`` says what was looked for."""
        found = sorted(self.with_role(role) if fits is None else fits, key=lambda p: p.code)
        if not found:
            raise InputError(
                "no_part_for",
                "/parts",
                f"The catalogue has no {role.replace('_', ' ')} for {wanted}.",
                "Add such a part to the catalogue or choose other hardware.",
            )
        return found[0]


def read_catalogue(document: object, pointer: str = "/parts") -> Catalogue:
    """Read ``parts-catalogue/1``. Raises InputError."""
    read_schema(document, "parts-catalogue/1", pointer)
    members = read_object(document, pointer, {"schema", "name", "note", "currency", "parts"})
    rows = read_list(members.get("parts"), f"{pointer}/parts", most=5000)
    parts = tuple(_read_part(row, f"{pointer}/parts/{i}") for i, row in enumerate(rows))
    seen: set[str] = set()
    for i, part in enumerate(parts):
        if part.code in seen:
            raise InputError(
                "part_twice",
                f"{pointer}/parts/{i}/code",
                f"The code {part.code} occurs twice.",
                "Give every part its own code.",
            )
        seen.add(part.code)
    return Catalogue(read_text(members.get("name"), f"{pointer}/name"), parts)


def _read_part(row: object, pointer: str) -> Part:
    members = read_object(row, pointer, _MEMBERS)
    kind = cast(PartKind, read_choice(members.get("kind"), f"{pointer}/kind", _KINDS))
    sizes: dict[str, Any] = {
        f"{name}_ticks": read_length(members[name], f"{pointer}/{name}")
        for name in _LENGTHS
        if members.get(name) is not None
    }
    return Part(
        code=read_text(members.get("code"), f"{pointer}/code", most=40),
        kind=kind,
        role=read_choice(members.get("role", NO_ROLE), f"{pointer}/role", (*ROLES, NO_ROLE)),
        description=read_text(members.get("description"), f"{pointer}/description"),
        profile=read_optional_text(members.get("profile"), f"{pointer}/profile", 40),
        grade=read_optional_text(members.get("grade"), f"{pointer}/grade", 40),
        fits=read_texts(members.get("fits"), f"{pointer}/fits"),
        covers=read_count(members.get("covers", 1), f"{pointer}/covers", least=1),
        flange_width_in=_inches(members.get("flange_width"), f"{pointer}/flange_width"),
        depth_in=_inches(members.get("depth"), f"{pointer}/depth"),
        lead_time_days=read_count(members.get("lead_time_days", 0), f"{pointer}/lead_time_days"),
        **sizes,
        **_read_prices(members, kind, pointer),
    )


_KINDS = ("each", "bar", "consumable")


def _inches(value: object, pointer: str) -> float | None:
    return None if value is None else read_quantity(value, "in", pointer)


def _read_prices(members: dict[str, Any], kind: PartKind, pointer: str) -> dict[str, Any]:
    """Return weight and price members; what nobody has entered is marked as not known."""
    name, unit = ("weight_per_length", "lb/ft") if kind == "bar" else ("weight", "lb")
    given = members.get(name)
    found: dict[str, Any] = {
        "weight_lb": 0.0 if given is None else read_quantity(given, unit, f"{pointer}/{name}"),
        "is_weight_known": given is not None,
    }
    if kind == "bar":
        rows = read_list(members.get("stock", []), f"{pointer}/stock", most=50, least=0)
        stock = [_read_stock(row, f"{pointer}/stock/{i}") for i, row in enumerate(rows)]
        return found | {"stock": tuple(sorted(stock, key=lambda s: s.length_ticks))}
    if (given := members.get("pack")) is not None:
        pack = read_object(given, f"{pointer}/pack", {"size", "price_cents"})
        found["pack_size"] = read_count(pack.get("size"), f"{pointer}/pack/size", least=1)
        return found | _read_cents(pack, f"{pointer}/pack")
    return found | _read_cents(members, pointer)


def _read_cents(members: dict[str, Any], pointer: str) -> dict[str, Any]:
    if members.get("price_cents") is None:
        return {"price_cents": 0, "is_price_known": False}
    cents = read_count(members["price_cents"], f"{pointer}/price_cents", most=10**9)
    return {"price_cents": cents}


def _read_stock(row: object, pointer: str) -> StockLength:
    members = read_object(row, pointer, {"length", "price_cents"})
    length = read_length(members.get("length"), f"{pointer}/length")
    if length <= 0:
        raise InputError(
            "length_not_positive",
            f"{pointer}/length",
            "A stock length must be above zero.",
            "Give the length of a full bar.",
        )
    return StockLength(
        length, read_count(members.get("price_cents"), f"{pointer}/price_cents", most=10**9)
    )
