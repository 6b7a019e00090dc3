"""Reading a drawing back: positions in ticks out of the SVG's own coordinates."""

from __future__ import annotations

import re
from dataclasses import dataclass
from xml.etree import ElementTree

SVG = "{http://www.w3.org/2000/svg}"


def parse(svg: str) -> ElementTree.Element:
    return ElementTree.fromstring(svg)


def ticks_of(text: str) -> int:
    """Return ticks of a feet-inches dimension as drawn, such as 5'-0 1/2"."""
    match = re.fullmatch(r"(\d+)'-(\d+)(?: (\d+)/(\d+))?\"", text)
    assert match is not None, text
    feet, inches, top, bottom = match.groups()
    ticks = (int(feet) * 12 + int(inches)) * 64
    return ticks + (int(top) * 64 // int(bottom) if top else 0)


@dataclass
class PanelRead:
    """A panel of an elevation with its own way from units to ticks."""

    element: ElementTree.Element
    per_tick: float

    @property
    def left(self) -> float:
        return float(self.element.attrib["data-left"])

    @property
    def start(self) -> int:
        return int(self.element.attrib["data-start"])

    def at(self, x: float) -> float:
        """Return the place along the wall, in ticks, of a drawing coordinate."""
        return (x - self.left) / self.per_tick + self.start

    def height(self, y: float) -> float:
        return (float(self.element.attrib["data-slab"]) - y) / self.per_tick

    def found(self, tag: str, attribute: str) -> list[ElementTree.Element]:
        return [e for e in self.element.iter(SVG + tag) if attribute in e.attrib]


def panels(root: ElementTree.Element) -> list[PanelRead]:
    per_tick = float(root.attrib["data-per-tick"])
    groups = [e for e in root.iter(SVG + "g") if e.attrib.get("class") == "panel"]
    return [PanelRead(group, per_tick) for group in groups]


def dimensions(root: ElementTree.Element, kind: str) -> list[ElementTree.Element]:
    return [e for e in root.iter(SVG + "text") if e.attrib.get("data-dim") == kind]
