"""Words of a screening: reasons for review, assumptions, unknowns, cautions."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from contractor.engine.data.basis import Basis

Outcome = Literal["within screening limits", "engineer review needed"]
WITHIN: Final = "within screening limits"
REVIEW: Final = "engineer review needed"
TRADE: Final = "common practice in the trade"
DISCLAIMER = (
    "Screening is not engineering design. Local code and a licensed engineer decide; where they "
    "differ from this sheet, they stand."
)


@dataclass(frozen=True)
class Reason:
    """Why an engineer must look. ``kind``: a stop of the list, an unknown, or a failed check."""

    code: str
    text: str
    source: str
    basis: Basis
    kind: Literal["stop", "unknown", "check"]


@dataclass(frozen=True)
class Note:
    """An assumption, an unknown or a caution, with a stable code."""

    code: str
    text: str
    source: str = ""
