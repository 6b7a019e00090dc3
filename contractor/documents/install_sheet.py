"""The install sheet: steps per brace as a checklist with blanks, and the cautions of the trade."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Literal

from contractor.documents.sheet import Blank, Block, Caution, Facts, Heading, Matrix, Sheet

Document = dict[str, Any]
MatrixRow = tuple[str, Literal["box", "blank", "text"], tuple[str, ...]]
BRACES_A_PAGE = 5

#: Common practice in the trade; a company may hand in its own.
STEPS: dict[str, str] = {
    "protect": "Protect floor and belongings, clear the wall, find utilities",
    "mark": "Mark the position from the drawing",
    "dry_fit": "Cut and dry-fit, tight against the wall's base",
    "top_bracket": "Top bracket: about 1/4 in between nut and channel",
    "drill": "Drill the holes with the bracket as template",
    "bolt": "Bolt to the joist side",
    "plumb": "Plumb the beam; base still tight",
    "bottom_bracket": "Bottom bracket",
    "first_anchor": "First anchor",
    "second_anchor": "Second anchor",
    "seal": "Seal a hole that went through the footing",
    "tighten": "Tighten to the torque",
    "label": "Label with company and date",
}
JOB_STEPS: dict[str, str] = {
    "clean_up": "Clean up",
    "hand_over": "Hand over the re-tightening kit and show how it is used",
}
CAUTIONS: tuple[str, ...] = (
    "Stop and call the office when the wall differs from the drawing.",
    "Find water, gas and power lines before drilling slab, wall or joist.",
    "Drilling concrete: shroud, HEPA vacuum (29 CFR 1926.1153 Table 1). Eye and ear protection.",
    "Two people lift what weighs more than 51 lb (NIOSH 94-110, load constant).",
    "Cutting steel throws sparks: clear what burns, extinguisher at hand.",
    "Houses before 1978 may hold lead paint (40 CFR 745).",
    "Never tighten above the torque on this sheet: a wall comes back over years, not today.",
)
_PARALLEL = {"bolt": "Bolt to the backer, bracket turned a quarter turn"}


def render(
    layout: Document,
    bill: Document,
    *,
    name: str,
    site: str = "",
    screening: Document | None = None,
    steps: Mapping[str, str] | None = None,
    job_steps: Mapping[str, str] | None = None,
    cautions: Sequence[str] = CAUTIONS,
) -> Sheet:
    """Return the sheet of one wall from ``brace-layout/1`` and ``bill-of-materials/1``.

    The torque is the company's, or what ``screening`` allows where that is less.
    """
    torque = torque_text(bill, screening)
    backers = [row for row in bill["backers"] if row["wall"] == name]
    words = dict(steps or STEPS)
    if backers and steps is None:
        words |= _PARALLEL
    blocks: list[Block] = [
        Facts((("Site", site or "-"), ("Torque", f"{torque}, never more"), *_fixings(bill))),
        Caution(tuple(cautions), "Before you start"),
    ]
    braces = layout["braces"]
    for start in range(0, len(braces), BRACES_A_PAGE):
        group = braces[start : start + BRACES_A_PAGE]
        title = f"Braces {group[0]['mark']} to {group[-1]['mark']}"
        blocks.append(Heading(title, is_new_page=start > 0))
        blocks.append(_matrix(group, words, torque))
    blocks.append(Heading("The job"))
    rows: tuple[MatrixRow, ...] = tuple(
        (text, "box", ()) for text in (job_steps or JOB_STEPS).values()
    )
    blocks += [Matrix(("done",), rows), Blank("Remarks, photos, what differed", 3)]
    blocks.append(Blank("Crew leader, date", 1))
    return Sheet(f"Install sheet: {name}", site, tuple(blocks))


def torque_text(bill: Document, screening: Document | None) -> str:
    """Return the lower of the company's torque and what the screening allows."""
    company = bill["hardware"]["torque"]
    allowed = (screening or {}).get("torque")
    if allowed and allowed["allowed"]["value"] < company["value"]:
        return f"{allowed['allowed']['text']} (the screening's limit)"
    return str(company["text"])


def _fixings(bill: Document) -> tuple[tuple[str, str], ...]:
    hardware = bill["hardware"]
    return (
        ("Beam", f"{hardware['shape']} {hardware['grade']}"),
        (
            "Top",
            f"{hardware['through_bolts_per_bracket']} bolts "
            f"{hardware['through_bolt_diameter']['text']}",
        ),
        (
            "Base",
            f"{hardware['anchors_per_bracket']} anchors {hardware['anchor_diameter']['text']}",
        ),
    )


def _matrix(braces: list[Document], steps: Mapping[str, str], torque: str) -> Matrix:
    """Return known values first, then a box per step, then blanks for what is measured."""
    places = tuple(brace["at"]["text"] for brace in braces)
    joists = tuple(
        f"{brace['joist']} {brace['side']}" if brace["joist"] is not None else "backer"
        for brace in braces
    )
    cuts = tuple(
        brace["beam_length"]["text"] + ("" if brace["basis"] == "measured" else " ?")
        for brace in braces
    )
    furring = tuple(
        f"{brace['furring_layers']} layers" if brace["furring_layers"] else "-" for brace in braces
    )
    rows: list[MatrixRow] = [
        ("From the left corner", "text", places),
        ("Joist and side", "text", joists),
        ("Cut length (? = measure first)", "text", cuts),
        ("Furring", "text", furring),
        ("Height measured", "blank", ()),
    ]
    rows += [(text, "box", ()) for text in steps.values()]
    rows += [
        (f"Torque reached (limit {torque})", "blank", ()),
        ("Anchors set, sealed yes/no", "blank", ()),
        ("Label date", "blank", ()),
    ]
    return Matrix(tuple(brace["mark"] for brace in braces), tuple(rows))
