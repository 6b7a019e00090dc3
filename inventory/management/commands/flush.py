"""Django's ``flush``, which empties every table, with the ledger's seal lifted meanwhile."""

from __future__ import annotations

from typing import Any

from django.core.management.commands.flush import Command as Flush

from inventory import sealing


class Command(Flush):
    def handle(self, **options: Any) -> None:
        with sealing.lifted(options["database"]):
            super().handle(**options)
