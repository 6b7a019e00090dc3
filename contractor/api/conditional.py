"""Conditional requests (RFC 9110 section 13): strong entity tags from the version counter."""

from __future__ import annotations

import re

from rest_framework.request import Request

from contractor.api.models.base import Versioned
from contractor.api.refusals import PreconditionFailedError, PreconditionRequiredError

_TAG = re.compile(r'(W/)?"([\x21\x23-\x7e\x80-\xff]*)"')


def etag(row: Versioned) -> str:
    """Return the strong tag of ``row``, such as ``"kit-17-v5"`` with its quotes."""
    return f'"{row._meta.model_name}-{row.pk}-v{row.version}"'


def expected_version(request: Request, row: Versioned) -> int | None:
    """Return the version that If-Match asks for; None for ``*``.

    Raises PreconditionRequiredError (428) without the header and PreconditionFailedError (412)
    when no listed tag is the current one. Weak tags never match. The service compares once
    more under its lock.
    """
    header = request.headers.get("If-Match")
    if header is None:
        raise PreconditionRequiredError(
            "A change must say which version it is based on.",
            remedy='Read the record and send its ETag as If-Match, such as If-Match: "kit-17-v5".',
        )
    if header.strip() == "*":
        return None
    if etag(row) in _strong_tags(header):
        return row.version
    raise PreconditionFailedError(
        "Somebody changed this record after you read it.",
        remedy="Read it again, repeat your change on top, send the new ETag.",
        current_version=row.version,
    )


def is_unchanged(request: Request, row: Versioned) -> bool:
    """Return whether If-None-Match names the current tag (weak comparison, section 13.1.2)."""
    header = request.headers.get("If-None-Match")
    if header is None:
        return False
    return header.strip() == "*" or etag(row)[1:-1] in {tag for _, tag in _TAG.findall(header)}


def _strong_tags(header: str) -> set[str]:
    return {f'"{tag}"' for weak, tag in _TAG.findall(header) if not weak}
