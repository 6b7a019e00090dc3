"""Inputs of the crew's forms: label, typed value and refusal travel together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from contractor.engine.errors import InputError
from contractor.errors import DomainError


@dataclass
class Input:
    """One input. ``kind`` is its HTML type ("textarea", "select" with ``choices``, "checkbox")."""

    name: str
    label: str
    value: str = ""
    kind: str = "text"
    hint: str = ""
    mode: str = ""
    error: str = ""
    autocomplete: str = "off"
    choices: tuple[tuple[str, str], ...] = ()


@dataclass
class Form:
    """The inputs of one form in order, and refusals that belong to no input."""

    inputs: list[Input]
    errors: list[str] = field(default_factory=list)

    def keep_typed(self, posted: Mapping[str, str]) -> None:
        for one in self.inputs:
            if one.kind != "file":
                one.value = posted.get(one.name, "").strip()[:2000]

    def show(self, errors: Mapping[str, str]) -> None:
        """Put each refusal beside its input."""
        names = {one.name for one in self.inputs}
        for one in self.inputs:
            one.error = errors.get(one.name, "")
        self.errors += [words for name, words in errors.items() if name not in names]

    @property
    def is_refused(self) -> bool:
        return bool(self.errors or any(one.error for one in self.inputs))


def sentence(refusal: DomainError | InputError) -> str:
    """Return what was refused and what to do."""
    reason = refusal.detail if isinstance(refusal, DomainError) else refusal.reason
    return f"{reason} {refusal.remedy}".strip()
