"""Errors of the engine: bad input says what, why and what to do."""

from __future__ import annotations


class InputError(ValueError):
    """A document that the engine refuses.

    ``code`` is stable (snake_case), ``pointer`` a JSON pointer into the posted document,
    ``reason`` says what is wrong and why, ``remedy`` what to do about it.
    """

    def __init__(self, code: str, pointer: str, reason: str, remedy: str) -> None:
        super().__init__(f"{pointer}: {reason} {remedy}")
        self.code = code
        self.pointer = pointer
        self.reason = reason
        self.remedy = remedy
