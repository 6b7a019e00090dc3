"""Answers that are pictures or sheets."""

from __future__ import annotations

from django.http import HttpResponse

CONTENT_TYPES = {"svg": "image/svg+xml; charset=utf-8", "pdf": "application/pdf"}


def printed_answer(content: str | bytes, name: str) -> HttpResponse:
    """Answer printed matter: shown in the browser, ``name`` (with its suffix) for saving."""
    return HttpResponse(
        content,
        content_type=CONTENT_TYPES[name.rpartition(".")[2]],
        headers={"Content-Disposition": f'inline; filename="{name}"'},
    )
