"""Queue, run, cancel and forget long calculations. Nothing is locked while a solver works."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Q
from django.utils import timezone

from contractor.api import faults, problems, states
from contractor.api.calculations import CALCULATIONS, Limits
from contractor.api.models import CalculationRun, User
from contractor.api.transactions import service
from contractor.engine.errors import InputError
from contractor.engine.units import System
from contractor.errors import DomainError
from contractor.queue import nudge

KEPT = timedelta(hours=24)
LONGEST_S = 120.0
ATTEMPTS = 2
WAITING_PER_PERSON = 10
_LEASE_BEYOND = timedelta(seconds=60)
_LOOK_EVERY_S = 0.5
S = CalculationRun.Status
MOVES: states.Moves = {
    S.WAITING: frozenset({S.RUNNING, S.CANCELLED, S.FAILED}),
    S.RUNNING: frozenset({S.DONE, S.FAILED, S.CANCELLED}),
}


class TooManyRunsError(DomainError):
    code = "too_many_runs"
    title = "Too many calculations wait already"
    status = 429


@service
def queue_run(
    user: User, name: str, document: Any, system: System, seconds: float
) -> CalculationRun:
    """Store the document for a worker; at most ten of one person wait or run."""
    busy = CalculationRun.objects.filter(user=user, status__in=[S.WAITING, S.RUNNING])
    if busy.count() >= WAITING_PER_PERSON:
        raise TooManyRunsError(
            f"{WAITING_PER_PERSON} of your calculations wait or run.",
            remedy="Wait for one to end, or cancel one.",
        )
    run = CalculationRun.objects.create(
        user=user, name=name, document=document, units=system, seconds=seconds
    )
    nudge("contractor.api.tasks.run_calculations")
    return run


@service
def cancel_run(pk: int) -> CalculationRun:
    """Stop a run: at once while it waits, at the solver's next look while it runs."""
    run = CalculationRun.objects.select_for_update().get(pk=pk)
    states.move(run, S.CANCELLED, MOVES)
    run.save()
    return run


def waiting(at: datetime) -> list[int]:
    """Return runs to work on, oldest first; one whose worker died is among them."""
    is_lost = Q(status=S.RUNNING, lease_until__lt=at)
    rows = CalculationRun.objects.filter(Q(status=S.WAITING) | is_lost)
    return list(rows.order_by("pk").values_list("pk", flat=True)[:50])


def execute(pk: int, *, now: Callable[[], datetime] = timezone.now) -> None:
    """Run one calculation and store what came of it."""
    claimed = _claim(pk, now())
    if claimed is None:
        return
    answer, problem = _calculate(claimed)
    _finish(pk, claimed.attempts, answer, problem)


def forget_old_runs(*, now: datetime) -> int:
    """Delete runs older than a day; return how many."""
    return CalculationRun.objects.filter(created_at__lt=now - KEPT).delete()[0]


@service
def _claim(pk: int, at: datetime) -> CalculationRun | None:
    run = CalculationRun.objects.select_for_update().filter(pk=pk).first()
    is_lost = run and run.status == S.RUNNING and run.lease_until and run.lease_until < at
    if run is None or (run.status != S.WAITING and not is_lost):
        return None
    if run.attempts >= ATTEMPTS:
        _store_failure(run, "The worker ended before the calculation did, twice.")
        return None
    if run.status == S.WAITING:
        states.move(run, S.RUNNING, MOVES)
    run.attempts += 1
    run.lease_until = at + timedelta(seconds=run.seconds) + _LEASE_BEYOND
    run.save()
    return run


def _calculate(run: CalculationRun) -> tuple[Any, Any]:
    """Return (answer, None) or (None, problem document)."""
    watch = _Watch(run.pk)
    limits = Limits(run.seconds, watch.is_cancelled, watch.write)
    path = f"/api/v1/calculations/{run.name}"
    try:
        system: System = "si" if run.units == "si" else "us"
        return CALCULATIONS[run.name].run(run.document, system, limits), None
    except InputError as error:
        listed = faults.listed(faults.validation_error(error).detail)
        return None, problems.input_document(listed, path)


class _Watch:
    """Looks for a cancellation and writes progress, at most twice a second."""

    def __init__(self, pk: int) -> None:
        self._pk = pk
        self._looked = self._wrote = 0.0
        self._is_cancelled = False

    def is_cancelled(self) -> bool:
        if time.monotonic() - self._looked >= _LOOK_EVERY_S:
            self._looked = time.monotonic()
            row = CalculationRun.objects.filter(pk=self._pk, status=S.RUNNING)
            self._is_cancelled = not row.exists()
        return self._is_cancelled

    def write(self, progress: dict[str, Any]) -> None:
        if time.monotonic() - self._wrote >= _LOOK_EVERY_S:
            self._wrote = time.monotonic()
            CalculationRun.objects.filter(pk=self._pk).update(progress=progress)


@service
def _finish(pk: int, attempt: int, answer: Any, problem: Any) -> None:
    rows = CalculationRun.objects.select_for_update()
    run = rows.filter(pk=pk, status=S.RUNNING, attempts=attempt).first()
    if run is None:
        return  # cancelled, forgotten, or taken over by another worker
    run.answer, run.problem = answer, problem
    states.move(run, S.DONE if problem is None else S.FAILED, MOVES)
    run.save()


def _store_failure(run: CalculationRun, detail: str) -> None:
    run.problem = problems.problem(
        "internal_error",
        500,
        "Something failed on our side",
        detail,
        instance=f"/api/v1/calculation-runs/{run.pk}",
    )
    states.move(run, S.FAILED, MOVES)
    run.save()
