"""The pull sheet of the warehouse: what to take from which bin for one kit."""

from __future__ import annotations

from typing import Any

from contractor.documents.sheet import Blank, Block, Caution, Column, Facts, Sheet, Table

Document = dict[str, Any]
LIFT_LB = 51.0
_LB_PER_KG = 1 / 0.45359237
_COLUMNS = (
    Column("Bin", 2),
    Column("Part", 3, is_code=True),
    Column("What", 6),
    Column("Mark", 2),
    Column("Length", 2, "right"),
    Column("Take", 1, "right"),
    Column("Short", 1, "right"),
    Column("Pulled", 2),
)


def render(kit: Document) -> Sheet:
    """Return the sheet of a kit: ``reference``, ``status``, ``lines`` with bins, ``weight``."""
    rows = tuple(row for line in kit["lines"] for row in _rows(line))
    blocks: list[Block] = [
        Facts(
            (
                ("Kit", kit["reference"]),
                ("Status", kit["status"]),
                ("Weight", kit["weight"]["text"]),
            )
        ),
    ]
    if heavy := _heavy(kit["lines"]):
        blocks.append(Caution(heavy, "Two people lift (more than 51 lb, NIOSH 94-110)"))
    if kit.get("weight_unknown"):
        blocks.append(Caution((", ".join(kit["weight_unknown"]),), "Weight not known"))
    blocks += [Table(_COLUMNS, rows), Blank("Pulled by, date; staged at", 2)]
    return Sheet(f"Pull sheet: {kit['reference']}", "Warehouse", tuple(blocks), caution="")


def _rows(line: Document) -> list[tuple[str, ...]]:
    """Return one row per bin, and one where nothing lies in a bin yet."""
    length = line["length"]["text"] if line["length"] else ""
    takes = line["take"] or [{"bin": None, "lot": None, "quantity": line["quantity"]}]
    found: list[tuple[str, ...]] = []
    for i, take in enumerate(takes):
        place = take["bin"] or "-"
        if take.get("lot"):
            place += f", lot {take['lot']}"
        short = str(line["short"]) if line["short"] and i == 0 else ""
        found.append(
            (
                *(place, line["part"], line["description"], line["mark"] or "", length),
                *(str(take["quantity"]), short, "________"),
            )
        )
    return found


def _heavy(lines: list[Document]) -> tuple[str, ...]:
    found = []
    for line in lines:
        weight = line.get("weight_each")
        if weight is None:
            continue
        pounds = weight["value"] * (_LB_PER_KG if weight["unit"] == "kg" else 1.0)
        if pounds > LIFT_LB:
            mark = f" {line['mark']}" if line["mark"] else ""
            found.append(f"{line['description']}{mark}: {weight['text']}")
    return tuple(found)
