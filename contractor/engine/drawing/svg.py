"""Writing SVG as text: numbers with two decimals, escaped words, one style for every drawing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from html import escape as _escape

INK = "#1d2733"
SOFT = "#5c6b7a"
FAINT = "#c9d1d8"
PAPER = "#ffffff"
ACCENT = "#b4451f"
FONT = "'Source Sans 3', 'Helvetica Neue', Arial, 'Liberation Sans', sans-serif"

STYLE = f"""
text {{ font-family: {FONT}; fill: {INK}; }}
.soft {{ fill: {SOFT}; }}
.accent {{ fill: {ACCENT}; }}
.bold {{ font-weight: 700; }}
.line {{ stroke: {INK}; stroke-width: 0.8; fill: none; }}
.thin {{ stroke: {SOFT}; stroke-width: 0.5; fill: none; }}
.hair {{ stroke: {FAINT}; stroke-width: 0.5; fill: none; }}
.heavy {{ stroke: {INK}; stroke-width: 1.6; fill: none; }}
.accent-line {{ stroke: {ACCENT}; stroke-width: 1.4; fill: none; }}
.dash {{ stroke-dasharray: 5 3; }}
.dots {{ stroke-dasharray: 1.2 2.4; }}
.wall {{ fill: #f3f1ec; stroke: {INK}; stroke-width: 0.9; }}
.slab {{ fill: #dcdfe2; stroke: {INK}; stroke-width: 0.6; }}
.wood {{ fill: #efe6d6; stroke: {SOFT}; stroke-width: 0.6; }}
.backer {{ fill: #dcb983; stroke: {INK}; stroke-width: 0.6; }}
.block {{ fill: #b98a45; stroke: {INK}; stroke-width: 0.4; }}
.void {{ fill: {PAPER}; stroke: {INK}; stroke-width: 0.7; }}
.thing {{ fill: #e3e7ea; stroke: {SOFT}; stroke-width: 0.6; }}
.beam {{ fill: {ACCENT}; stroke: {ACCENT}; stroke-width: 0.4; }}
.bracket {{ fill: {INK}; stroke: none; }}
.band {{ fill: {ACCENT}; fill-opacity: 0.12; stroke: none; }}
.paper {{ fill: {PAPER}; stroke: none; }}
.halo {{ fill: {PAPER}; fill-opacity: 0.86; stroke: none; }}
.dot {{ fill: {PAPER}; stroke: {INK}; stroke-width: 1.1; }}
.dot-off {{ fill: {PAPER}; stroke: {ACCENT}; stroke-width: 1.1; }}
""".strip()


def number(value: float) -> str:
    """Return a coordinate with at most two decimals and no negative zero.

    >>> number(3.0), number(-0.001), number(2.345)
    ('3', '0', '2.35')
    """
    text = f"{value + 1e-9:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def escape(words: str) -> str:
    return _escape(words, quote=False)


def quoteattr(words: str) -> str:
    return f'"{_escape(words)}"'


class Svg:
    """Collects elements; ``finish`` wraps them with title, description and style."""

    def __init__(self) -> None:
        self._parts: list[str] = []
        self._depth = 1

    def _add(self, text: str) -> None:
        self._parts.append("  " * self._depth + text)

    @contextmanager
    def group(self, css: str = "", **data: object) -> Iterator[None]:
        self._add(f"<g{_attributes(css, data)}>")
        self._depth += 1
        yield
        self._depth -= 1
        self._add("</g>")

    def rect(
        self, x: float, y: float, width: float, height: float, css: str, **data: object
    ) -> None:
        self._add(
            f'<rect x="{number(x)}" y="{number(y)}" width="{number(max(width, 0))}" '
            f'height="{number(max(height, 0))}"{_attributes(css, data)}/>'
        )

    def line(self, x1: float, y1: float, x2: float, y2: float, css: str, **data: object) -> None:
        self._add(
            f'<line x1="{number(x1)}" y1="{number(y1)}" x2="{number(x2)}" y2="{number(y2)}"'
            f"{_attributes(css, data)}/>"
        )

    def circle(self, x: float, y: float, radius: float, css: str, **data: object) -> None:
        self._add(
            f'<circle cx="{number(x)}" cy="{number(y)}" r="{number(radius)}"'
            f"{_attributes(css, data)}/>"
        )

    def path(
        self,
        points: Sequence[tuple[float, float]],
        css: str,
        *,
        is_closed: bool = False,
        **data: object,
    ) -> None:
        steps = " L".join(f"{number(x)} {number(y)}" for x, y in points)
        self._add(f'<path d="M{steps}{" Z" if is_closed else ""}"{_attributes(css, data)}/>')

    def text(
        self,
        x: float,
        y: float,
        words: str,
        size: float,
        css: str = "",
        *,
        anchor: str = "start",
        turn: float = 0.0,
        **data: object,
    ) -> None:
        """Write ``words`` with the baseline at ``y``; ``turn`` in degrees, clockwise."""
        place = "" if anchor == "start" else f' text-anchor="{anchor}"'
        if turn:
            place += f' transform="rotate({number(turn)} {number(x)} {number(y)})"'
        self._add(
            f'<text x="{number(x)}" y="{number(y)}" font-size="{number(size)}"{place}'
            f"{_attributes(css, data)}>{escape(words)}</text>"
        )

    def finish(
        self,
        width: float,
        height: float,
        title: str,
        description: str,
        *,
        ident: str,
        **data: object,
    ) -> str:
        """Return the whole drawing; ``ident`` starts its ids, so that a page can hold several."""
        size = f'width="{number(width)}" height="{number(height)}"'
        head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" {size} '
            f'viewBox="0 0 {number(width)} {number(height)}" role="img" '
            f'aria-labelledby="{ident}-title {ident}-desc"{_attributes("", data)}>'
        )
        return "\n".join(
            [
                head,
                f'  <title id="{ident}-title">{escape(title)}</title>',
                f'  <desc id="{ident}-desc">{escape(description)}</desc>',
                f"  <style>{STYLE}</style>",
                f'  <rect class="paper" width="{number(width)}" height="{number(height)}"/>',
                *self._parts,
                "</svg>",
                "",
            ]
        )


def _attributes(css: str, data: dict[str, object]) -> str:
    found = f" class={quoteattr(css)}" if css else ""
    for name, value in data.items():
        if value is not None:
            found += f" data-{name.replace('_', '-')}={quoteattr(str(value))}"
    return found
