from django.apps import AppConfig

from contractor.api.company_settings import register_setting


class InventoryConfig(AppConfig):
    name = "inventory"
    label = "inventory"

    def ready(self) -> None:
        from inventory import sealing, tasks
        from inventory.preferences import read_cutting

        register_setting("cutting", read_cutting)
        sealing.connect(self)
        tasks.register()
