from datetime import timedelta

from django.apps import AppConfig

from contractor.api.company_settings import register_setting
from contractor.queue import register_sweep


class JobsConfig(AppConfig):
    name = "jobs"
    label = "jobs"

    def ready(self) -> None:
        from contractor.engine.followup.policy import read_policy
        from contractor.engine.followup.tightening import read_step_policy
        from jobs.services import hours, privacy

        register_setting("follow_up_policy", read_policy)
        register_setting("tightening", read_step_policy)
        register_setting("sending", hours.check_wishes)
        register_setting("retention", privacy.check_retention)
        register_sweep("jobs.tasks.send_due_reminders", every=timedelta(seconds=30))
        register_sweep("jobs.tasks.find_silent_sends", every=timedelta(minutes=5))
        register_sweep("jobs.tasks.forget_old_forms", every=timedelta(hours=6))
        register_sweep("jobs.tasks.keep_retention", every=timedelta(days=1))
