from datetime import timedelta

from django.apps import AppConfig

from contractor.queue import register_sweep


class CrewsConfig(AppConfig):
    name = "contractor.crews"
    label = "crews"

    def ready(self) -> None:
        register_sweep("contractor.crews.tasks.compute_requested_plans", every=timedelta(seconds=5))
        register_sweep("contractor.crews.tasks.finish_visits", every=timedelta(minutes=5))
