"""A printed sheet as plain values: the same blocks are written as HTML and as PDF."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, Literal

Align = Literal["left", "right", "center"]
CAUTION = (
    "Screening, not engineering design. Local code and a licensed engineer decide; where they "
    "differ from this sheet, they stand."
)


@dataclass(frozen=True)
class Heading:
    """``is_new_page`` starts a page in print."""

    text: str
    level: int = 2
    is_new_page: bool = False


@dataclass(frozen=True)
class Paragraph:
    text: str
    is_strong: bool = False
    is_large: bool = False


@dataclass(frozen=True)
class Caution:
    """Something that must not be missed; set off by a rule in the accent colour."""

    texts: tuple[str, ...]
    title: str = ""


@dataclass(frozen=True)
class Listing:
    items: tuple[str, ...]
    is_numbered: bool = False


@dataclass(frozen=True)
class Facts:
    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Column:
    """``share`` is a relative width; 0 fits the content."""

    name: str
    share: int = 0
    align: Align = "left"
    is_code: bool = False


@dataclass(frozen=True)
class Table:
    """``is_form`` leaves room to write by hand."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    total: tuple[str, ...] = ()
    is_form: bool = False


@dataclass(frozen=True)
class Line:
    """One line of a calculation: what, formula, formula with numbers, result, clause, basis."""

    symbol: str
    label: str
    formula: str
    substituted: str
    result: str
    clause: str
    basis: str


@dataclass(frozen=True)
class Check:
    """One limit state; ``ratio`` None means it could not be computed, ``reason`` says why."""

    title: str
    demand: str
    capacity: str
    ratio: float | None
    clause: str
    basis: str
    reason: str
    lines: tuple[Line, ...]

    @property
    def passes(self) -> bool:
        return self.ratio is not None and self.ratio <= 1.0


@dataclass(frozen=True)
class Workings:
    """Lines of a calculation that end in numbers, not in a verdict."""

    title: str
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class Picture:
    """``share`` is the part of the text width that it takes; ``narrow`` is for phones."""

    svg: str
    alt: str
    share: float = 1.0
    narrow: str = ""


@dataclass(frozen=True)
class Matrix:
    """Steps down, braces across: "box" rows get a box to tick, "blank" rows a line to fill."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, Literal["box", "blank", "text"], tuple[str, ...]], ...]


@dataclass(frozen=True)
class Blank:
    """Room to write by hand."""

    title: str
    lines: int = 3


@dataclass(frozen=True)
class Ticket:
    """A label to cut out: large mark, small lines, a QR code as SVG."""

    mark: str
    lines: tuple[str, ...]
    code_svg: str
    code_text: str


@dataclass(frozen=True)
class Tickets:
    items: tuple[Ticket, ...]


@dataclass(frozen=True)
class Break:
    """A new page in print, nothing on a screen."""


Block = (
    Heading
    | Paragraph
    | Caution
    | Listing
    | Facts
    | Table
    | Check
    | Workings
    | Picture
    | Matrix
    | Blank
    | Tickets
    | Break
)


@dataclass(frozen=True)
class Sheet:
    """A whole document. ``marks`` are small facts of the foot line, such as hash and version."""

    title: str
    subtitle: str
    blocks: tuple[Block, ...]
    marks: tuple[str, ...] = ()
    caution: str = CAUTION
    is_landscape: bool = False
    language: str = "en"

    def as_data(self) -> dict[str, Any]:
        """Return plain data for a template; each block says what it is."""
        data = asdict(self)
        data["blocks"] = [
            {"block": type(block).__name__.lower(), **asdict(block), **_derived(block)}
            for block in self.blocks
        ]
        return data


def _derived(block: Block) -> dict[str, Any]:
    return {"passes": block.passes} if isinstance(block, Check) else {}


def short_length(length: dict[str, Any]) -> str:
    """Return the text of a length document; below a foot without the zero feet: 1/8 in."""
    text = str(length["text"])
    if not text.startswith("0'-"):
        return text
    return text.removeprefix("0'-").removeprefix("0 ").replace('"', " in")
