"""Serve the site and do the due work, in one process."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from contractor.demo.serving import serve


class Command(BaseCommand):
    help = "Serve web and due work from one process (waitress and a ticker thread)."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--host", default="127.0.0.1")
        parser.add_argument("--port", type=int, default=8000)

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            serve(options["host"], options["port"], lambda url: self.stdout.write(f"Serving {url}"))
        except OSError as error:
            raise CommandError(
                f"Port {options['port']} cannot be opened ({error.strerror}). "
                "End what uses it, or choose another with --port.",
                returncode=2,
            ) from error
