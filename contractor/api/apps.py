from django.apps import AppConfig


class ApiConfig(AppConfig):
    name = "contractor.api"
    label = "api"

    def ready(self) -> None:
        from contractor.api import tasks

        tasks.register()
