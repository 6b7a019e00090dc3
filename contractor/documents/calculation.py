"""The calculation sheet: assumptions first, then every number on its way to a clause."""

from __future__ import annotations

from typing import Any

from contractor.documents.sheet import (
    Blank,
    Block,
    Caution,
    Check,
    Column,
    Facts,
    Heading,
    Line,
    Listing,
    Paragraph,
    Picture,
    Sheet,
    Table,
    Workings,
)

Document = dict[str, Any]


def render(
    screening: Document,
    *,
    layout: Document | None = None,
    drawing: str = "",
    narrow_drawing: str = "",
) -> Sheet:
    """Return the sheet of a ``screening/1`` document: a wall page, then one per brace class.

    ``layout`` adds the brace table's beam lengths, ``drawing`` the elevation as SVG, best bare
    and on the canvas "column"; ``narrow_drawing`` is the same for phones.
    """
    blocks: list[Block] = [*_outcome(screening), *_open_points(screening)]
    blocks += _wall(screening)
    if drawing:
        blocks.append(Picture(drawing, "Wall elevation", narrow=narrow_drawing))
    blocks += [*_braces(screening, layout), *_bays(screening), *_help(screening)]
    blocks.append(Blank("Note of the engineer", 8))
    for group in screening["classes"]:
        blocks += _brace_class(group)
    return Sheet(
        title=f"Calculation sheet: {screening['wall'] or 'wall'}",
        subtitle="Screening of steel wall braces",
        blocks=tuple(blocks),
        marks=(screening["engine_version"], f"input {screening['input_hash'][:16]}"),
        caution=screening["disclaimer"],
    )


def _outcome(screening: Document) -> list[Block]:
    reasons = tuple(
        f"{reason['text']} [{reason['source']}; {reason['basis']}]"
        for reason in screening["reasons"]
    )
    outcome = screening["outcome"].capitalize()
    if reasons:
        return [Caution(reasons, f"{outcome}, for these reasons:")]
    governing = screening["governing"]
    text = ""
    if governing is not None:
        percent = 100 * (governing.get("utilization") or 0.0)
        title = governing.get("title") or governing.get("code", "")
        text = f" {title} governs with {percent:.1f} % used ({governing.get('where', '')})."
    return [Paragraph(f"{outcome}.{text}", is_strong=True)]


def _notes(rows: list[Document]) -> tuple[str, ...]:
    return tuple(
        f"{row['text']} [{row['source']}]" if row.get("source") else row["text"] for row in rows
    )


def _open_points(screening: Document) -> list[Block]:
    blocks: list[Block] = []
    for title, key in (("Assumptions", "assumptions"), ("Not known", "unknowns")):
        if screening[key]:
            blocks += [Heading(title), Listing(_notes(screening[key]))]
    if screening["cautions"]:
        blocks.append(Caution(_notes(screening["cautions"]), "Mind"))
    return blocks


def _text(value: Any) -> str:
    """Return a quantity's text, or a plain word."""
    if isinstance(value, dict):
        return str(value.get("text", ""))
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "not known" if value is None else str(value)


def _wall(screening: Document) -> list[Block]:
    beam, soil, fixings = screening["beam"], screening["soil"], screening["fixings"]
    limit = screening["spacing_limit"]
    rows = [("Beam", f"{beam['shape']} {beam['grade']}, Fy {_text(beam['yield_strength'])}")]
    rows += _soil_rows(soil) if soil else []
    bolts, anchors = fixings["top_bolts"], fixings["base_anchors"]
    rows.append(
        (
            "Top",
            f"{bolts['count']} bolts {_text(bolts['diameter'])}, plate washers "
            f"{_text(bolts['plate_washer'])}",
        )
    )
    if backer := fixings["backer"]:
        nails = f"{backer['nails_per_joist']} a joist, {backer['nails_per_block']} a block"
        rows.append(("Backer", f"{_text(backer['length'])}, {backer['nail']}: {nails}"))
    rows.append(
        (
            "Base",
            f"{anchors['count']} anchors {_text(anchors['diameter'])}, embedded "
            f"{_text(anchors['embedment'])}",
        )
    )
    rows.append(("Spacing", limit["note"]))
    if torque := screening["torque"]:
        rows.append(("Torque", f"up to {_text(torque['allowed'])}: {torque['note']}"))
    if lift := screening["handling"]:
        rows.append(
            ("Lifting", f"beam {_text(lift['beam_weight'])}, {lift['lifters_needed']} people")
        )
    return [Heading("Wall"), Facts(tuple(rows))]


def _words(code: str | None) -> str:
    return (code or "-").replace("_", " ")


def _soil_rows(soil: Document) -> list[tuple[str, str]]:
    weight = _text(soil["equivalent_fluid_weight"])
    name = soil["class"] or "as given"
    depths = (
        f"{_text(soil['fill_height'])}, water {_text(soil['water_height'])} above the slab, "
        f"surcharge {_text(soil['surcharge'])}"
    )
    return [
        ("Soil", f"{name}: {weight} ({soil['clause']}; {soil['basis']})"),
        ("Rule", soil["rule"]),
        ("Fill", depths),
    ]


def _percent(ratio: float | None) -> str:
    return "-" if ratio is None else f"{100 * ratio:.1f} %"


def _braces(screening: Document, layout: Document | None) -> list[Block]:
    cuts = {b["mark"]: _text(b["beam_length"]) for b in layout["braces"]} if layout else {}
    columns = (
        Column("Brace"),
        Column("From left", 2, "right"),
        Column("Carries", 2, "right"),
        Column("Span", 2, "right"),
        Column("Beam", 2, "right"),
        Column("Governs", 4),
        Column("Used", 1, "right"),
    )
    rows = tuple(
        (
            brace["mark"],
            _text(brace["at"]),
            _text(brace["tributary_width"]),
            _text(brace["span"]),
            cuts.get(brace["mark"], "-"),
            _words(brace.get("governs")),
            _percent(brace.get("utilization")),
        )
        for brace in screening["braces"]
    )
    return [Heading("Braces"), Table(columns, rows)] if rows else []


def _bays(screening: Document) -> list[Block]:
    bays = screening["bays"]
    if not bays:
        return []
    worst = max(bays, key=lambda bay: bay["check"].get("utilization") or 0.0)
    columns = (Column("Wall between", 3), Column("Width", 2, "right"), Column("Used", 1, "right"))
    rows = tuple(
        (
            f"{bay['from']} and {bay['to']}",
            _text(bay["width"]),
            _percent(bay["check"].get("utilization")),
        )
        for bay in bays
    )
    return [
        Heading("Wall between the braces"),
        Table(columns, rows),
        Paragraph(f"The bay most used, {worst['from']} to {worst['to']}:"),
        _check(worst["check"]),
    ]


def _help(screening: Document) -> list[Block]:
    blocks: list[Block] = []
    if screening["would_help"]:
        texts = tuple(
            f"{row['title']}: then {_percent(row.get('utilization'))} used"
            for row in screening["would_help"]
        )
        blocks += [Heading("What would help"), Listing(texts)]
    if screening["sensitivity"]:
        rows = tuple(
            (row["title"], _percent(row["utilization"]), _words(row["governs"]))
            for row in screening["sensitivity"]
        )
        columns = (Column("If", 4), Column("Used", 1, "right"), Column("Governs", 3))
        blocks += [Heading("Sensitivity"), Table(columns, rows)]
    return blocks


# ---------------------------------------------------------------- brace classes


def _brace_class(group: Document) -> list[Block]:
    marks = ", ".join(group["marks"])
    load = Workings("Load, reactions, moment", tuple(_line(line) for line in group["lines"]))
    return [
        Heading(f"{group['name'].capitalize()}: {marks}", 2, is_new_page=True),
        Paragraph(
            f"Carries {_text(group['tributary_width'])} of wall over a span of "
            f"{_text(group['span'])}. Reactions {_text(group['reaction_top'])} at the top, "
            f"{_text(group['reaction_base'])} at the base; largest moment "
            f"{_text(group['moment'])}, {_text(group['moment_at'])} up."
        ),
        load,
        *(_check(check) for check in group["checks"]),
    ]


def _check(check: Document) -> Check:
    return Check(
        title=check["title"],
        demand=_text(check["demand"]),
        capacity=_text(check["capacity"]),
        ratio=check["utilization"],
        clause=check["clause"],
        basis=check["basis"],
        reason=check["not_computed"] or "",
        lines=tuple(_line(line) for line in check["lines"]),
    )


def _line(line: Document) -> Line:
    return Line(
        symbol=line["symbol"],
        label=line["label"],
        formula=line["formula"],
        substituted=line["substituted"],
        result=_text(line["result"]),
        clause=line["clause"],
        basis=line["basis"],
    )
