"""Brace layout: the exact best places for braces along one wall, and the reasons for them."""

from contractor.engine.layout.answer import Brace, Layout, NoAnswer, Remark
from contractor.engine.layout.braces import lay_out

__all__ = ["Brace", "Layout", "NoAnswer", "Remark", "lay_out"]
