"""A sheet as PDF: the same sheet is the same file, byte for byte, on any machine."""

from __future__ import annotations

import json
from pathlib import Path

from contractor.documents.sheet import Sheet

_TEMPLATE = Path(__file__).with_name("sheet.typ")


def to_pdf(sheet: Sheet) -> bytes:
    """Return the PDF. Only fonts inside the typesetter are used, and no date is written."""
    import typst

    data = json.dumps(sheet.as_data(), ensure_ascii=False, sort_keys=True)
    compiled = typst.compile(
        _TEMPLATE.read_bytes(),
        sys_inputs={"sheet": data},
        ignore_system_fonts=True,
        timestamp=0,
    )
    assert isinstance(compiled, bytes)
    return compiled
