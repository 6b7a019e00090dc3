from django.apps import AppConfig


class ContractorConfig(AppConfig):
    name = "contractor"
    label = "contractor"

    def ready(self) -> None:
        # Here and not in contractor/__init__.py: an import of the engine must not pay for Celery.
        from contractor import celery  # noqa: F401
