from datetime import timedelta

from django.apps import AppConfig

from contractor.queue import register_sweep

TASKS = "contractor.crews.tasks"


class CrewsConfig(AppConfig):
    name = "contractor.crews"
    label = "crews"

    def ready(self) -> None:
        register_sweep(f"{TASKS}.compute_requested_plans", every=timedelta(seconds=5))
        register_sweep(f"{TASKS}.compute_requested_service_plans", every=timedelta(seconds=5))
        register_sweep(f"{TASKS}.finish_visits", every=timedelta(minutes=5))
        register_sweep(f"{TASKS}.follow_requests", every=timedelta(minutes=5))
        register_sweep(f"{TASKS}.locate_sites", every=timedelta(minutes=5))
