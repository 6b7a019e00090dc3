"""What hangs at the saw: bars in saw order, and a label with a QR code for every piece."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from contractor.documents.codes import qr_svg
from contractor.documents.sheet import (
    Block,
    Column,
    Facts,
    Heading,
    Paragraph,
    Sheet,
    Table,
    Ticket,
    Tickets,
    short_length,
)

Document = dict[str, Any]
_COLUMNS = (
    Column("Order", 1, "right"),
    Column("Mark", 3),
    Column("Kit", 3),
    Column("Length", 3, "right"),
    Column("Sawn", 2),
)


def piece_code(label: Document) -> str:
    """Return what the QR code of a piece says where the company sets nothing else."""
    return f"piece {label['piece']}"


def render(
    cut_list: Document,
    labels: list[Document],
    *,
    code_of: Callable[[Document], str] = piece_code,
) -> Sheet:
    """Return the sheet of a cutting plan; ``code_of`` gives the words of a label's code."""
    proof = "proven least cost" if cut_list["is_proven"] else f"gap {cut_list['gap']:.1%}"
    blocks: list[Block] = [
        Facts(
            (
                ("Part", f"{cut_list['part']}, {cut_list['description']}"),
                (
                    "Kerf",
                    f"{short_length(cut_list['kerf'])}, end trim "
                    f"{short_length(cut_list['end_trim'])}",
                ),
                ("Plan", f"{cut_list['plan']}, revision {cut_list['revision']}, {proof}"),
            )
        )
    ]
    for bar in cut_list["bars"]:
        blocks += _bar(bar)
    if labels:
        blocks.append(Heading("Labels", is_new_page=True))
        blocks.append(Tickets(tuple(_ticket(label, code_of) for label in labels)))
    return Sheet(f"Cut tickets: {cut_list['part']}", "Saw", tuple(blocks), caution="")


def _bar(bar: Document) -> list[Block]:
    source = bar["from"] if bar["from"] == "full bar" else f"offcut {bar['from']}"
    heat = f", heat {bar['heat']}" if bar.get("heat") else ""
    rows = tuple(
        (
            str(piece["position"]),
            piece["mark"],
            piece["kit"],
            piece["length"]["text"],
            "________",
        )
        for piece in bar["pieces"]
    )
    left = f"Left over {short_length(bar['left'])}"
    tag = f": keep, tag {bar['tag']}" if bar.get("tag") else ": keep" if bar["keep"] else ": scrap"
    return [
        Heading(f"Bar {bar['number']}: {source} {bar['length']['text']}{heat}", 3),
        Table(_COLUMNS, rows),
        Paragraph(left + tag),
    ]


def _ticket(label: Document, code_of: Callable[[Document], str]) -> Ticket:
    code = code_of(label)
    lines = [f"{label['length']['text']}  {label['part']}", f"Kit {label['kit']}"]
    if label.get("bar"):
        lines.append(f"Bar {label['bar']}, cut {label['position']}")
    if label.get("heat"):
        lines.append(f"Heat {label['heat']}")
    return Ticket(label["mark"], tuple(lines), qr_svg(code), code)
