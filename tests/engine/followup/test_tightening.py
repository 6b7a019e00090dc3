"""Never above the recorded torque; small steps (common practice)."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from contractor.engine.errors import InputError
from contractor.engine.followup.tightening import StepPolicy, exceeds_record, next_step

TORQUE = st.floats(0, 300)


@given(TORQUE, st.none() | TORQUE, st.none() | TORQUE, st.floats(0.5, 100))
@settings(deadline=None)
def test_a_step_never_passes_the_record_or_the_screening(
    recorded: float, limit: float | None, found: float | None, step: float
) -> None:
    policy = StepPolicy(step_lbf_ft=step)
    advice = next_step(
        recorded_lbf_ft=recorded, screening_limit_lbf_ft=limit, found_lbf_ft=found, policy=policy
    )
    if advice.advice != "tighten":
        assert advice.wrench_lbf_ft is None and advice.turn is None
        return
    assert advice.wrench_lbf_ft is not None and advice.turn == policy.turn
    assert advice.wrench_lbf_ft <= recorded
    assert limit is None or advice.wrench_lbf_ft <= limit
    assert found is None or found < advice.wrench_lbf_ft <= found + step


@pytest.mark.parametrize(
    ("recorded", "limit", "found", "advice", "wrench"),
    [
        (50.0, None, None, "tighten", 50),
        (50.0, 38.7, None, "tighten", 38),
        (50.0, None, 20.0, "tighten", 35),
        (50.0, None, 44.0, "tighten", 50),
        (50.0, None, 50.0, "leave", None),
        (50.0, None, 51.9, "leave", None),
        (50.0, None, 52.1, "stop_and_call", None),
        (0.5, None, None, "stop_and_call", None),
    ],
)
def test_steps(
    recorded: float, limit: float | None, found: float | None, advice: str, wrench: int | None
) -> None:
    step = next_step(recorded_lbf_ft=recorded, screening_limit_lbf_ft=limit, found_lbf_ft=found)
    assert (step.advice, step.wrench_lbf_ft) == (advice, wrench)


def test_a_logged_torque_above_the_record_is_noticed() -> None:
    assert not exceeds_record(50.0, 50.0)
    assert not exceeds_record(52.0, 50.0)
    assert exceeds_record(52.1, 50.0)


@pytest.mark.parametrize("value", [-1.0, 300.5, float("nan"), float("inf")])
def test_nonsense_torque_is_refused(value: float) -> None:
    with pytest.raises(InputError) as refused:
        next_step(recorded_lbf_ft=50.0, found_lbf_ft=value)
    assert (refused.value.code, refused.value.pointer) == ("torque_out_of_range", "/found_torque")


def test_a_policy_of_more_than_a_turn_is_refused() -> None:
    with pytest.raises(InputError, match="at most one turn"):
        StepPolicy(turn=Fraction(5, 4))
