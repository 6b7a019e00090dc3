"""Parts of ``Company.settings`` that apps check when somebody saves them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

Check = Callable[[Any], object]
_checks: dict[str, Check] = {}


def register_setting(name: str, check: Check) -> None:
    """Have ``check`` (raises InputError) look at ``settings[name]`` before it is saved."""
    _checks[name] = check


def names() -> frozenset[str]:
    """Return the parts that somebody checks."""
    return frozenset(_checks)


def checks_for(settings: Mapping[str, Any]) -> list[tuple[str, Check]]:
    """Return (name, check) of the parts that are there and that somebody checks."""
    return [(name, _checks[name]) for name in sorted(_checks) if settings.get(name) is not None]
