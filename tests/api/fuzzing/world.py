"""The database that is fuzzed: the demonstration, a stranger's company, and a person per role.

Every role works at one branch. What belongs to the second branch or to the stranger's company
must never be seen; the stranger's names all carry a mark that answers are searched for.
"""

from __future__ import annotations

import copy
import json
import os
import sys
from datetime import timedelta
from pathlib import Path
from typing import Any

MARK = "zzforeign"
_NAMES = frozenset({"name", "label", "address", "email", "title", "engineer", "licence"})


def fill() -> dict[str, Any]:
    """Load both companies; return who the people are, what they may, and which keys there are."""
    from django.utils import timezone

    from contractor.api.models import Branch, Company
    from contractor.demo import loading, working

    at = timezone.now() - timedelta(weeks=3)
    scenario = loading.read_scenario()
    world = loading.load(scenario, today=at.date(), at=at)
    working.work(world, scenario)
    strange = _as_a_stranger(scenario)
    working.work(loading.load(strange, today=at.date(), at=at), strange)
    places = {
        "branch": list(Branch.objects.values_list("pk", flat=True)),
        "company": list(Company.objects.values_list("pk", flat=True)),
    }
    return {"roles": _people(world), "access": _access(), "keys": _keys(), "places": places}


def _as_a_stranger(scenario: dict[str, Any]) -> dict[str, Any]:
    """Return the scenario with marked names; branch keys and part codes keep theirs."""

    def marked(value: Any, name: str = "") -> Any:
        if isinstance(value, dict):
            return {key: marked(inner, key) for key, inner in value.items()}
        if isinstance(value, list):
            return [marked(inner, name) for inner in value]
        return f"{MARK} {value}" if name in _NAMES and isinstance(value, str) else value

    strange = marked(copy.deepcopy(scenario))
    for name in ("supplier", "site"):
        for part in ("shortage", "movement"):
            if name in strange[part]:
                strange[part][name] = f"{MARK} {strange[part][name]}"
    for site in strange["sites"]:
        site["homeowner"]["email"] = site["homeowner"]["email"].replace(" ", ".")
    return dict(strange)


def _people(world: Any) -> dict[str, Any]:
    from django.utils import timezone

    from contractor.api.models import Membership, Role, User
    from contractor.api.services.tokens import issue_token

    branch = next(iter(world.branches.values()))
    found = {}
    for role in Role.values:
        user = User.objects.create_user(f"fuzz-{role}")
        Membership.objects.create(user=user, branch=branch, role=role)
        token, secret = issue_token(
            user,
            name="fuzzing",
            scopes=["*:read", "*:write"],
            expires_at=timezone.now() + timedelta(days=7),
        )
        found[role] = {
            "secret": secret,
            "token": token.pk,
            "user": user.pk,
            "branch": branch.pk,
            "company": world.company.pk,
        }
    return found


def _access() -> dict[str, Any]:
    """Return "GET /api/v1/jobs/{}" -> roles that may, or "public"."""
    from tests.api.operations import operations

    return {
        f"{op.method.upper()} {op.at('{}')}": op.roles
        if isinstance(op.roles, str)
        else sorted(op.roles)
        for op in operations()
    }


def _keys() -> dict[str, list[str]]:
    """Return "POST /api/v1/jobs" -> members of the body, at any depth, that name rows."""
    from drf_spectacular.generators import SchemaGenerator

    schema: Any = SchemaGenerator().get_schema(request=None, public=True)  # type: ignore[no-untyped-call]
    return {
        f"{method.upper()} {path}": sorted(_row_names(operation.get("requestBody"), schema, set()))
        for path, item in schema["paths"].items()
        for method, operation in item.items()
    }


def _row_names(part: Any, schema: Any, seen: set[str]) -> set[str]:
    """Rows are named by plain whole numbers without bounds."""
    if isinstance(part, list):
        return set().union(*(_row_names(inner, schema, seen) for inner in part))
    if not isinstance(part, dict):
        return set()
    reference = part.get("$ref")
    if isinstance(reference, str) and reference not in seen:
        shape = schema["components"]["schemas"][reference.rsplit("/", 1)[1]]
        return _row_names(shape, schema, seen | {reference})
    names = {
        name
        for name, entry in (part.get("properties") or {}).items()
        if _is_key(entry) or _is_key(entry.get("items", {}))
    }
    return names.union(*(_row_names(inner, schema, seen) for inner in part.values()))


def _is_key(entry: Any) -> bool:
    kinds = entry.get("type")
    is_whole = kinds == "integer" or (isinstance(kinds, list) and "integer" in kinds)
    return is_whole and "minimum" not in entry and "maximum" not in entry


def main(facts: Path) -> None:
    import django

    django.setup()
    from django.core.management import call_command
    from django.db import connection

    call_command("migrate", verbosity=0)
    facts.write_text(json.dumps(fill()))
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")  # the file alone is copied


if __name__ == "__main__":
    assert "DATABASE_URL" in os.environ, "name a database that may be filled"
    main(Path(sys.argv[1]))
