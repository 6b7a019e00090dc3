from datetime import timedelta

from django.apps import AppConfig

from contractor.queue import register_sweep


class JobsConfig(AppConfig):
    name = "jobs"
    label = "jobs"

    def ready(self) -> None:
        from jobs import preferences

        preferences.register()
        register_sweep("jobs.tasks.send_due_reminders", every=timedelta(seconds=30))
        register_sweep("jobs.tasks.find_silent_sends", every=timedelta(minutes=5))
        register_sweep("jobs.tasks.forget_old_forms", every=timedelta(hours=6))
        register_sweep("jobs.tasks.keep_retention", every=timedelta(days=1))
