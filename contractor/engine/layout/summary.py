"""A layout document as a few lines of text for a terminal."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any


def summary(document: dict[str, Any], name: str = "") -> str:
    """Return what a site person wants to read of a ``brace-layout/1`` document."""
    return "\n".join(_lines(document, name)) + "\n"


def _lines(document: dict[str, Any], name: str) -> Iterator[str]:
    braces = document["braces"]
    limit = document["spacing_limit"]
    count = f"{len(braces)} brace{'' if len(braces) == 1 else 's'}"
    yield f"{name or 'Wall'}: {count}, spacing limit {limit['value']['text']} ({limit['from']})"
    for brace in braces:
        where = f"joist {brace['joist']} {brace['side']}" if brace["joist"] else "backer"
        length = f"{brace['beam_length']['text']} {brace['basis']}"
        yield f"  {brace['mark']:<4}{brace['at']['text']:>12}  {where:<16}beam {length}"
        for reason in brace["because"]:
            yield f"      {reason}"
    if (report := document["no_answer"]) is not None:
        yield (
            f"  No layout: from {report['from']['text']} to {report['to']['text']} cannot be "
            f"bridged; the largest gap is {report['largest_gap']['text']}."
        )
        for help_text in report["would_help"]:
            yield f"      Would help: {help_text}"
    if document["review"]:
        yield "  Engineer review needed:"
    for reason in document["review"]:
        yield f"      {reason['text']}"
    for caution in document["cautions"]:
        yield f"  Caution: {caution}"
