from django.apps import AppConfig


class InventoryConfig(AppConfig):
    name = "inventory"
    label = "inventory"

    def ready(self) -> None:
        from inventory import sealing, tasks

        sealing.connect(self)
        tasks.register()
