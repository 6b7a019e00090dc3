"""Load the demonstration scenario, run the whole chain, tell what happened, and serve."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection
from django.utils import timezone

from contractor.api.models import User
from contractor.api.services.tokens import issue_token
from contractor.demo import loading, report, working
from contractor.demo.database import start_over
from contractor.demo.papers import write_papers
from contractor.demo.serving import serve

WEEKS_AGO = 3  # the scenario starts then, so that its reminders lie ahead


class Command(BaseCommand):
    # They load every page and endpoint, which only serving needs; ``test`` runs them.
    requires_system_checks: list[str] = []
    help = "Run the demonstration: load a scenario, work it through, report, serve."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--once", action="store_true", help="stop after the report")
        parser.add_argument("--port", type=int, default=8000)

    def handle(self, *args: Any, **options: Any) -> None:
        self._fresh_database()
        now = timezone.now() - timedelta(weeks=WEEKS_AGO)
        scenario = loading.read_scenario()
        world = loading.load(scenario, today=now.date(), at=now)
        told = working.work(world, scenario)
        papers = write_papers(world, told, Path(settings.STATE_DIR) / "papers")
        self.stdout.write(report.report(world, told, papers))
        if not options["once"]:
            self._serve(options["port"])

    def _fresh_database(self) -> None:
        """Start over: the demonstration has a SQLite file of its own and never another's."""
        name = str(connection.settings_dict["NAME"])
        if connection.vendor != "sqlite" or "demo" not in Path(name).parts:
            raise CommandError(
                f"The demonstration erases its database and will not touch {name}. "
                "Unset DATABASE_URL and STATE_DIR and run it again.",
                returncode=2,
            )
        start_over(Path(name), self.stdout.write)

    def _serve(self, port: int) -> None:
        user = User.objects.get(username="office")
        _, secret = issue_token(
            user,
            name="demonstration",
            scopes=["*:read", "*:write"],
            expires_at=timezone.now() + timedelta(days=7),
        )

        def ready(url: str) -> None:
            self.stdout.write(
                f"\nServing {url} (API docs: {url}/api/v1/docs). For the story in the README:\n"
                f"  export TAUTLINE={url} TOKEN={secret}\nCtrl-C ends it.\n"
            )
            self.stdout.flush()

        try:
            serve("127.0.0.1", port, ready)
        except OSError as error:
            raise CommandError(
                f"Port {port} cannot be opened ({error.strerror}). "
                "End what uses it, or choose another with --port.",
                returncode=2,
            ) from error
