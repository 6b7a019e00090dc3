"""Answers that are pictures or sheets."""

from __future__ import annotations

from django.http import HttpResponse

from contractor.documents import Sheet, to_html, to_pdf

CONTENT_TYPES = {
    "svg": "image/svg+xml; charset=utf-8",
    "pdf": "application/pdf",
    "html": "text/html; charset=utf-8",
}


def printed_answer(content: str | bytes | Sheet, name: str) -> HttpResponse:
    """Answer printed matter: shown in the browser, ``name`` (with its suffix) for saving."""
    suffix = name.rpartition(".")[2]
    if isinstance(content, Sheet):
        content = to_pdf(content) if suffix == "pdf" else to_html(content)
    return HttpResponse(
        content,
        content_type=CONTENT_TYPES[suffix],
        headers={"Content-Disposition": f'inline; filename="{name}"'},
    )
