"""Issue a token from the operator's shell; the secret is printed once."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from contractor.api.endpoints.tokens import SCOPES
from contractor.api.models import User
from contractor.api.services.tokens import LONGEST, issue_token


class Command(BaseCommand):
    help = "Issue an API token for an account and print its secret, which is not shown again."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("username")
        parser.add_argument("--name", default="made by the operator", help="what it is for")
        parser.add_argument(
            "--scope", action="append", choices=SCOPES, help="may be repeated; default *:read"
        )
        parser.add_argument("--days", type=int, default=90, help="until it ends, 366 at most")

    def handle(self, *args: Any, **options: Any) -> None:
        user = User.objects.filter(username=options["username"]).first()
        if user is None:
            raise CommandError(f"There is no account {options['username']!r}.", returncode=2)
        if not 1 <= options["days"] <= LONGEST.days:
            raise CommandError(f"--days is not 1 to {LONGEST.days}.", returncode=2)
        _, secret = issue_token(
            user,
            name=options["name"],
            scopes=options["scope"] or ["*:read"],
            expires_at=timezone.now() + timedelta(days=options["days"]),
        )
        self.stdout.write(secret)
