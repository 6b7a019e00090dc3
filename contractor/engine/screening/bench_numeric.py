"""References for the closed-form statics: quadrature (scipy) and a finite-element frame.

Both libraries are development dependencies; nothing here runs in the service.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import Any

from contractor.engine.screening.statics import Segment, simply_supported

E_PSI, I_IN4 = 29e6, 12.3


def _load(segments: Sequence[Segment], x: float) -> float:
    total = 0.0
    for part in segments:
        if part.start_in <= x <= part.end_in:
            share = (x - part.start_in) / (part.end_in - part.start_in)
            total += part.start_lbf_per_in + share * (part.end_lbf_per_in - part.start_lbf_per_in)
    return total


def reference(segments: Sequence[Segment], span_in: float) -> dict[str, float]:
    """Return reactions and the peaks of moment and EI deflection, by quadrature and search.

    Reactions come from quadrature; EI v'' = -M, M' = V, V' = -w is integrated by an ODE solver
    of high order; the peaks are sought on a grid and then closed in on.
    """
    import numpy as np
    from scipy.integrate import quad, solve_ivp

    marks = sorted({0.0, span_in} | {mark for s in segments for mark in (s.start_in, s.end_in)})
    loads = [(a, b, _load_between(segments, a, b)) for a, b in itertools.pairwise(marks)]
    total = sum(float(quad(load, a, b)[0]) for a, b, load in loads)
    turn = sum(float(quad(lambda x, w=load: w(x) * x, a, b)[0]) for a, b, load in loads)
    top = turn / span_in
    state, solutions = [0.0, 0.0, 0.0, total - top], []
    for a, b, load in loads:
        found = solve_ivp(
            lambda x, y, w=load: [y[1], -y[2], y[3], -w(x)],
            (a, b),
            state,
            method="DOP853",
            rtol=1e-11,
            atol=1e-9,
            dense_output=True,
        )
        solutions.append((a, b, found.sol))
        state = list(found.y[:, -1])
    tilt = -state[0] / span_in
    grids = [(sol, np.linspace(a, b, 101)) for a, b, sol in solutions]
    return {
        "top": top,
        "bottom": total - top,
        "moment": _peak(grids, lambda y, _: y[2]),
        "deflection": _peak(grids, lambda y, x: y[0] + tilt * x),
    }


def _load_between(segments: Sequence[Segment], a: float, b: float) -> Any:
    low, high = a + 1e-9 * (b - a), b - 1e-9 * (b - a)
    left, right = _load(segments, low), _load(segments, high)
    return lambda x: left + (right - left) * (x - low) / (high - low)


def _peak(grids: Sequence[tuple[Any, Any]], quantity: Any) -> float:
    """Return the value of largest size: the best grid point, then a bounded search around it."""
    from scipy.optimize import minimize_scalar

    best = 0.0
    for solution, grid in grids:
        values = quantity(solution(grid), grid)
        index = int(abs(values).argmax())
        low, high = grid[max(index - 1, 0)], grid[min(index + 1, len(grid) - 1)]
        found = minimize_scalar(
            lambda x, sol=solution: -abs(quantity(sol(x), x)),
            bounds=(low, high),
            method="bounded",
            options={"xatol": 1e-9},
        )
        for value in (float(quantity(solution(found.x), found.x)), float(values[index])):
            best = value if abs(value) > abs(best) else best
    return best


def frame_errors(segments: Sequence[Segment], span_in: float) -> dict[str, float]:
    """Return relative errors of the closed form against a finite-element frame program."""
    from Pynite import FEModel3D

    model = FEModel3D()
    model.add_node("a", 0, 0, 0)
    model.add_node("b", span_in, 0, 0)
    model.add_material("steel", E_PSI, 11.2e6, 0.3, 0.0)
    model.add_section("beam", 2.93, 1.19, I_IN4, 0.114)
    model.add_member("m", "a", "b", "steel", "beam")
    model.def_support("a", True, True, True, True, True, False)
    model.def_support("b", False, True, True, False, True, False)
    for part in segments:
        model.add_member_dist_load(
            "m", "Fy", part.start_lbf_per_in, part.end_lbf_per_in, part.start_in, part.end_in
        )
    model.analyze()
    member = model.members["m"]
    exact = simply_supported(tuple(segments), span_in)
    moment = abs(member.moment("Mz", exact.moment.at_in))
    bent = abs(member.deflection("dy", exact.ei_deflection.at_in))
    reaction = abs(model.nodes["a"].RxnFY["Combo 1"])
    exact_bent = abs(exact.ei_deflection.value) / (E_PSI * I_IN4)
    return {
        "frame_reaction": float(abs(reaction - abs(exact.bottom_lbf)) / abs(exact.shear.value)),
        "frame_moment": float(abs(moment - abs(exact.moment.value)) / abs(exact.moment.value)),
        "frame_deflection": float(abs(bent - exact_bent) / exact_bent),
    }
