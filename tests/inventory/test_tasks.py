from __future__ import annotations

from datetime import timedelta

from django.utils import timezone

from contractor.api.models import Branch
from contractor.queue import SWEEPS
from inventory import services, tasks
from inventory.amounts import Need
from inventory.models import Part, Reservation
from tests.inventory.conftest import kit_of


def test_the_sweeps_are_registered() -> None:
    assert SWEEPS["inventory.tasks.release_expired"].every == timedelta(seconds=60)
    assert SWEEPS["inventory.tasks.plan_due_cuts"].every == timedelta(seconds=30)


def test_reserving_as_a_task_runs_twice_without_harm(stocked: Branch, bolt: Part) -> None:
    kit, greedy = kit_of(stocked, Need(bolt.pk, 60)), kit_of(stocked, Need(bolt.pk, 60))
    for _ in range(2):
        tasks.reserve(kit_pk=kit.pk)
        tasks.reserve(kit_pk=greedy.pk)
    kit.refresh_from_db()
    greedy.refresh_from_db()
    assert (kit.status, greedy.status) == ("reserved", "open")
    assert Reservation.objects.count() == 1


def test_the_sweep_releases_what_has_expired(stocked: Branch, bolt: Part) -> None:
    now = timezone.now()
    old = services.reserve(
        stocked.pk, [Need(bolt.pk, 5)], at=now, expires_at=now - timedelta(hours=1)
    )
    new = services.reserve(
        stocked.pk, [Need(bolt.pk, 5)], at=now, expires_at=now + timedelta(hours=1)
    )
    tasks.release_expired()
    tasks.release_expired()
    old.refresh_from_db()
    new.refresh_from_db()
    assert (old.status, new.status) == ("expired", "held")
