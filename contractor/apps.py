from django.apps import AppConfig
from django.conf import settings


class ContractorConfig(AppConfig):
    name = "contractor"
    label = "contractor"

    def ready(self) -> None:
        # Here and not in contractor/__init__.py: an import of the engine must not pay for Celery,
        # nor must a process without a broker.
        if settings.QUEUE_MODE == "celery":
            from contractor import celery  # noqa: F401
