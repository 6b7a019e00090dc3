"""How far a brace may be tightened on one visit: never above the torque recorded at install.

Common practice: small steps, because a wall that is pushed fast cracks. Torque in lbf ft, turns
of the nut as a fraction of a full turn.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from contractor.engine.errors import InputError
from contractor.engine.rostering.fields import Field

Advice = Literal["tighten", "leave", "stop_and_call"]
MOST_TORQUE_LBF_FT = 300.0
TURNS = ("1/8", "1/6", "1/4", "1/3", "1/2", "1")


@dataclass(frozen=True)
class StepPolicy:
    """At most ``step_lbf_ft`` more than found and ``turn`` of the nut per visit."""

    step_lbf_ft: float = 15.0
    turn: Fraction = Fraction(1, 4)
    # Two click wrenches set alike differ by this much (ISO 6789-1: 4 % above 10 N m; from
    # memory, confirm), so a reading that close to the record is no excess.
    wrench_tolerance: float = 0.04

    def __post_init__(self) -> None:
        if not (
            0 < self.step_lbf_ft <= MOST_TORQUE_LBF_FT
            and 0 < self.turn <= 1
            and 0 <= self.wrench_tolerance <= 0.2
        ):
            raise InputError(
                "bad_step_policy",
                "/tightening",
                "A step is above 0 lbf ft, and a visit turns the nut by at most one turn.",
                "Give a smaller step.",
            )


def read_step_policy(document: object) -> StepPolicy:
    """Return the policy of ``{"step_lbf_ft": 15, "turn": "1/4"}``; absent members: the default."""
    field = Field(document)
    for name, member in field.items():
        if name not in ("step_lbf_ft", "turn"):
            raise member.refuse(
                "unknown_field", f"A step has no {name!r}.", "Use step_lbf_ft and turn."
            )
    defaults = StepPolicy()
    step, turn = field.get("step_lbf_ft"), field.get("turn")
    return StepPolicy(
        step_lbf_ft=step.number() if step is not None else defaults.step_lbf_ft,
        turn=_turn(turn) if turn is not None else defaults.turn,
    )


def _turn(field: Field) -> Fraction:
    return Fraction(field.one_of(TURNS))


@dataclass(frozen=True)
class TighteningStep:
    """What to do with one brace: set the wrench to ``wrench_lbf_ft``, turn at most ``turn``."""

    advice: Advice
    wrench_lbf_ft: int | None
    turn: Fraction | None
    because: str


def next_step(
    *,
    recorded_lbf_ft: float,
    screening_limit_lbf_ft: float | None = None,
    found_lbf_ft: float | None = None,
    policy: StepPolicy | None = None,
) -> TighteningStep:
    """Return the step for a brace found at ``found_lbf_ft`` (None where nobody measured).

    The wrench is set in whole lbf ft, rounded down. Found above the record means that somebody
    over-tightened or that the wall pushes: stop and call.
    """
    policy = policy or StepPolicy()
    recorded = _torque(recorded_lbf_ft, "/recorded_torque")
    limit = recorded
    if screening_limit_lbf_ft is not None:
        limit = min(limit, _torque(screening_limit_lbf_ft, "/screening_limit"))
    whole_limit = math.floor(limit)
    if whole_limit < 1:
        return TighteningStep("stop_and_call", None, None, "no torque is allowed on this brace")
    if found_lbf_ft is None:
        return TighteningStep(
            "tighten", whole_limit, policy.turn, f"up to the recorded {whole_limit} lbf ft"
        )
    return _step_from(_torque(found_lbf_ft, "/found_torque"), whole_limit, policy)


def _step_from(found: float, limit: int, policy: StepPolicy) -> TighteningStep:
    if found > limit * (1 + policy.wrench_tolerance):
        return TighteningStep(
            "stop_and_call", None, None, f"found {found:g} lbf ft, above the limit of {limit}"
        )
    target = min(limit, math.floor(found + policy.step_lbf_ft))
    if target <= found:
        return TighteningStep("leave", None, None, f"already at {found:g} of {limit} lbf ft")
    why = f"{target} of {limit} lbf ft" if target < limit else f"up to the limit of {limit} lbf ft"
    return TighteningStep("tighten", target, policy.turn, f"found {found:g} lbf ft: {why}")


def exceeds_record(
    logged_lbf_ft: float, recorded_lbf_ft: float, policy: StepPolicy | None = None
) -> bool:
    """Whether a torque that a homeowner logged is above the record, beyond wrench tolerance."""
    tolerance = (policy or StepPolicy()).wrench_tolerance
    return _torque(logged_lbf_ft, "/torque") > recorded_lbf_ft * (1 + tolerance)


def _torque(value: float, pointer: str) -> float:
    if not 0 <= value <= MOST_TORQUE_LBF_FT:
        raise InputError(
            "torque_out_of_range",
            pointer,
            f"{value:g} lbf ft is no torque of a hand wrench.",
            f"Give 0 to {MOST_TORQUE_LBF_FT:g} lbf ft, or check the unit.",
        )
    return value
