"""PyVRP's search with our parameters: the one place that calls ``pyvrp.solve``."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from typing import Any

from contractor.engine.errors import InputError

NEAR = 20


@dataclass(frozen=True)
class SearchSettings:
    """Parameters of PyVRP's iterated local search.

    ``start_penalty`` is what being one step late costs at the start, in steps driven; load is
    weighed alike, a mean demand against a mean leg to a near place. None leaves PyVRP's own
    start (50,000), which comes down so slowly that a search of seconds on hundreds of places
    never leaves the feasible side. On five instances of 240 to 1000 places and 10 s, the mean
    gap was 3.5 % with 1, 3.1 % with 20, 4.0 % with 400 and 3.8 % with PyVRP's own; the shorter
    history (PyVRP: 300) helps the large ones.
    """

    history_length: int = 100
    start_penalty: float | None = 20.0


def run_search(
    problem: Any,
    *,
    seconds: float | None,
    iterations: int | None,
    seed: int,
    settings: SearchSettings | None = None,
) -> Any:
    """Return PyVRP's result on ``problem``; InputError ``no_limit`` without any limit."""
    import pyvrp
    from pyvrp.stop import MaxIterations, MaxRuntime, MultipleCriteria

    limits: list[Any] = []
    if seconds is not None:
        limits.append(MaxRuntime(_positive(seconds, "/seconds")))
    if iterations is not None:
        limits.append(MaxIterations(int(_positive(iterations, "/iterations"))))
    if not limits:
        raise InputError("no_limit", "/seconds", "A search needs an end.", "Give seconds.")
    with warnings.catch_warnings():
        # Said once per search on hard instances; the plan tells whether it is feasible.
        warnings.simplefilter("ignore", pyvrp.exceptions.PenaltyBoundWarning)
        return pyvrp.solve(
            problem,
            MultipleCriteria(limits),
            seed=seed,
            collect_stats=False,
            display=False,
            params=search_params(settings or SearchSettings()),
        )


def search_params(settings: SearchSettings) -> Any:
    """Return ``settings`` as ``pyvrp.SolveParams``."""
    import pyvrp

    class ScaledPenalties(pyvrp.PenaltyParams):  # type: ignore[misc]
        def midpoint_penalties(self, data: Any) -> tuple[list[float], float, float]:
            late = settings.start_penalty or 0.0
            loads = [late * near_leg(data) / mean_load(data)] * data.num_load_dimensions
            return loads, late, late

    penalty = pyvrp.PenaltyParams() if settings.start_penalty is None else ScaledPenalties()
    return pyvrp.SolveParams(
        ils=pyvrp.IteratedLocalSearchParams(history_length=settings.history_length),
        penalty=penalty,
    )


def near_leg(data: Any) -> float:
    """Return the mean length of the legs from each location to its nearest ones."""
    import numpy as np

    shortest = np.minimum.reduce(data.distance_matrices())
    near = np.sort(shortest, axis=1)[:, 1 : NEAR + 1]
    return max(float(near.mean()), 1.0)


def mean_load(data: Any) -> float:
    """Return the mean demand of the clients, at least 1."""
    loads: list[int] = [sum(client.delivery) for client in data.clients()]
    return max(sum(loads) / len(loads), 1.0)


def engine_name() -> str:
    from importlib.metadata import version

    return f"pyvrp {version('pyvrp')}"


def _positive(value: float, pointer: str) -> float:
    if not 0 < value <= 86_400_000:
        raise InputError("limit_out_of_range", pointer, f"{value:g} is no limit.", "Give more.")
    return value
