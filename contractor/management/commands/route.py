"""Plan routes: svc-vrp/1 in and route-plan/1 out, or service-visits/1 in and visit-plan/1 out."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from contractor.engine.errors import InputError
from contractor.engine.rostering.routing import plan_document, solve_routes
from contractor.engine.rostering.routing_check import Violation, check_routes
from contractor.engine.rostering.routing_instance import read_instance
from contractor.engine.rostering.routing_visits_check import check_visits
from contractor.engine.rostering.routing_visits_reading import (
    SCHEMA,
    read_visits,
    visit_plan_document,
)
from contractor.engine.rostering.routing_visits_solve import plan_visits

EXIT_BAD_INPUT = 2
EXIT_NO_PLAN = 3


class Command(BaseCommand):
    help = "Plan the routes of a svc-vrp/1 file, or the visits of a service-visits/1 file."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, help="svc-vrp/1 or service-visits/1 file")
        parser.add_argument("--seconds", type=float, help="time limit (default 10)")
        parser.add_argument("--iterations", type=int, help="limit that gives the same answer twice")
        parser.add_argument("--seed", type=int, default=1)
        parser.add_argument("--json", type=Path, help="write the plan here")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            text, plan, found = _planned(_read_json(options["file"]), options)
        except InputError as error:
            line = f"{options['file']}: {error.pointer or '/'}: {error.reason} {error.remedy}"
            raise CommandError(" ".join(line.split()), returncode=EXIT_BAD_INPUT) from error
        self.stdout.write(text)
        if options["json"]:
            _write_json(options["json"], plan)
        if found:
            first = f"{found[0].code}: {found[0].text}"
            raise CommandError(
                f"{options['file']}: no plan that keeps every rule was found ({len(found)} broken, "
                f"first {first}). Allow more time, or more vehicles.",
                returncode=EXIT_NO_PLAN,
            )


def _planned(
    document: Any, options: dict[str, Any]
) -> tuple[str, dict[str, object], list[Violation]]:
    """Return the summary, the plan and what the independent checker has against it."""
    limit: dict[str, Any] = {"seed": options["seed"], "iterations": options["iterations"]}
    limit["seconds"] = options["seconds"]
    if limit["seconds"] is None and limit["iterations"] is None:
        limit["seconds"] = 10.0
    if not 0 <= options["seed"] < 2**32:
        raise InputError("seed_out_of_range", "--seed", "This is no seed.", "Give 0 to 2^32 - 1.")
    if isinstance(document, dict) and document.get("schema") == SCHEMA:
        return _visits(document, limit)
    instance = read_instance(document)
    answer = solve_routes(instance, **limit)
    plan = plan_document(answer)
    gap = ""
    if instance.best_known is not None:
        difference = answer.cost_value / instance.best_known - 1
        gap = f", best known {instance.best_known:g}, gap {difference:.2%}"
    text = (
        f"{instance.name or 'routes'}: {len(instance.clients)} places, "
        f"{len(answer.routes)} routes, cost {answer.cost_value:g}{gap}; "
        f"{answer.iterations} iterations in "
        f"{answer.seconds:.1f} s, seed {answer.seed}, {answer.engine}"
    )
    return text, plan, check_routes(document, plan)


def _visits(
    document: dict[str, Any], limit: dict[str, Any]
) -> tuple[str, dict[str, object], list[Violation]]:
    answer = plan_visits(read_visits(document), **limit)
    plan = visit_plan_document(answer)
    lines = [
        f"{len(answer.stops)} visits planned, {len(answer.missed)} missed, cost "
        f"{answer.cost.total} (travel {answer.cost.travel}, days {answer.cost.days}, windows "
        f"{answer.cost.windows}, missed {answer.cost.missed}); {answer.travel_minutes} min driven",
        *(f"  missed {one.visit}: {one.reason}" for one in answer.missed),
    ]
    return "\n".join(lines), plan, check_visits(document, plan)


def _read_json(path: Path) -> Any:
    try:
        return json.loads(path.read_text("utf-8"))
    except OSError as error:
        reason = error.strerror or "it cannot be read"
        raise CommandError(
            f"{path}: {reason}. Check the name.", returncode=EXIT_BAD_INPUT
        ) from error
    except (ValueError, RecursionError) as error:
        raise CommandError(
            f"{path}: This is not JSON ({error}). Give a svc-vrp/1 file.",
            returncode=EXIT_BAD_INPUT,
        ) from error


def _write_json(path: Path, document: dict[str, object]) -> None:
    try:
        path.write_text(json.dumps(document, indent=1) + "\n", "utf-8")
    except OSError as error:
        raise CommandError(
            f"{path}: {error.strerror}. Name a file that can be written.",
            returncode=EXIT_BAD_INPUT,
        ) from error
