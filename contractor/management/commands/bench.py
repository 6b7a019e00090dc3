"""Measure the engine and the services; prints ratios taken in one run."""

from __future__ import annotations

import json
from importlib import import_module
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

# Each module has main(data_dir, seconds, limit) -> (rows, text).
SUBJECTS = {
    "engine": "contractor.engine.chain_bench",
    "cutting": "contractor.engine.cutting.bench",
    "roster": "contractor.engine.rostering.bench",
    "route": "contractor.engine.rostering.routing_bench",
    "inventory": "inventory.bench",
    "reminders": "jobs.bench",
    "api": "contractor.api.bench",
}
NEEDS_DATA = {"cutting", "roster", "route"}


class Command(BaseCommand):
    help = "Run a benchmark: " + ", ".join(SUBJECTS)
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("subject", choices=sorted(SUBJECTS))
        parser.add_argument("--data", type=Path, help="folder of instance files")
        parser.add_argument("--seconds", type=float, help="time limit for one instance")
        parser.add_argument("--limit", type=int, help="at most so many instances of one file")
        parser.add_argument("--json", type=Path, help="also write the rows here")

    def handle(self, *args: Any, **options: Any) -> None:
        subject, data = options["subject"], options["data"]
        if subject in NEEDS_DATA and (data is None or not data.is_dir()):
            raise CommandError(f"bench {subject} reads instances: give --data FOLDER", returncode=2)
        bench = import_module(SUBJECTS[subject])
        rows, text = bench.main(data, options["seconds"], options["limit"])
        self.stdout.write(text)
        if options["json"]:
            options["json"].write_text(json.dumps(rows, indent=1))
