"""Cells of a table as the members of a request."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rest_framework import serializers
from rest_framework.fields import empty

from contractor.api.faults import fault
from contractor.api.fields import LengthField, QuantityField, ScopedKeyField
from contractor.api.tables import Cell

_TEXT = (serializers.CharField, serializers.ChoiceField)


def member_of(wanted: Any, cell: Cell, unit: Cell | None) -> Any:
    """Return ``cell`` as a JSON request would carry it."""
    if has_unit(wanted) and unit is not None:
        return {"value": _number(cell), "unit": str(unit)}
    if isinstance(wanted, ScopedKeyField):
        is_key = isinstance(cell, str) and cell.isascii() and cell.isdecimal() and len(cell) < 19
        return int(cell) if is_key else cell
    if isinstance(wanted, _TEXT) and not isinstance(cell, str):
        return str(cell)
    return cell


def has_unit(wanted: Any) -> bool:
    return isinstance(wanted, LengthField | QuantityField)


def _number(cell: Cell) -> Any:
    if not isinstance(cell, str):
        return cell
    try:
        return float(cell)
    except ValueError:
        return cell  # the field says what is wrong with it


def key_of(cell: Cell) -> int:
    text = str(cell)
    if not text.isdecimal() or not text.isascii() or len(text) > 18:
        raise fault("The key is not a whole number.", code="incorrect_type")
    return int(text)


def same_of(
    fields: Mapping[str, Any], names: tuple[str, ...], data: Mapping[str, Any]
) -> dict[str, Any] | None:
    """Return column -> value of ``names``; None when one is missing that may not be empty."""
    same: dict[str, Any] = {}
    for name in names:
        wanted, source = fields[name], str(fields[name].source)
        if name in data and isinstance(wanted, ScopedKeyField):
            if not isinstance(data[name], int):
                return None  # reading the row says what is wrong with it
            same[source] = data[name]
        elif name in data:
            same[source] = _validated(wanted, name, data[name])
        elif wanted.default is not empty:
            same[source] = wanted.default
        elif getattr(wanted, "allow_blank", False):
            same[source] = ""
        else:
            return None
    return same


def _validated(wanted: Any, name: str, value: Any) -> Any:
    try:
        return wanted.run_validation(value)
    except serializers.ValidationError as error:
        raise serializers.ValidationError({name: error.detail}) from error
