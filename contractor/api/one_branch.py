"""Rows that one request ties together belong to one branch, whoever sends it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rest_framework import serializers


def same_branch(attrs: dict[str, Any], row: Any, names: tuple[str, ...]) -> dict[str, Any]:
    """Return ``attrs`` unless a row under one of ``names`` is of another branch.

    The branch is the one named in ``attrs``, else that of ``row`` (None for a new row), else
    that of the first neighbour.
    """
    branch = _branch_of(attrs, row, names)
    for name in names:
        neighbour = attrs.get(name)
        if neighbour is not None and neighbour.branch_id != branch:
            raise serializers.ValidationError(
                {name: ["It belongs to another branch."]}, code="other_branch"
            )
    return attrs


def _branch_of(attrs: Mapping[str, Any], row: Any, names: tuple[str, ...]) -> int | None:
    if "branch" in attrs:
        return int(attrs["branch"].pk)
    if row is not None:
        return int(row.branch_id)
    found = [attrs[name].branch_id for name in names if attrs.get(name) is not None]
    return found[0] if found else None
