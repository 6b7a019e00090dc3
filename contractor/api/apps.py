from django.apps import AppConfig


class ApiConfig(AppConfig):
    name = "contractor.api"
    label = "api"

    def ready(self) -> None:
        from contractor.api import schema, tasks  # noqa: F401 - schema registers its extensions

        tasks.register()
