"""Plan the cuts for one part and grade: cut-stock/1 in, cut-plan/1 out."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from contractor.engine.cutting import CutPlan, plan_document, read_instance, solve
from contractor.engine.errors import InputError

EXIT_BAD_INPUT = 2
EXIT_UNMET = 3


class Command(BaseCommand):
    help = "Plan cuts for a cut-stock/1 file at least material cost, with a bound and its proof."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, help="cut-stock/1 file")
        parser.add_argument("--seconds", type=float, default=10.0, help="time limit")
        parser.add_argument("--seed", type=int, default=1)
        parser.add_argument("--json", type=Path, help="write the cut-plan/1 answer here")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["seconds"] <= 0:
            raise CommandError(
                "--seconds must be above 0: give the planner some time.", returncode=EXIT_BAD_INPUT
            )
        try:
            instance = read_instance(_read(options["file"]))
        except InputError as refusal:
            raise CommandError(str(refusal), returncode=EXIT_BAD_INPUT) from refusal
        plan = solve(instance, seconds=options["seconds"], seed=options["seed"])
        if options["json"]:
            _write(options["json"], plan)
        self.stdout.write(_summary(plan))
        if plan.unmet:
            short = ", ".join(f"{number} x {item_id}" for item_id, number in plan.unmet)
            raise CommandError(_why_short(plan, short), returncode=EXIT_UNMET)


def _why_short(plan: CutPlan, short: str) -> str:
    if plan.is_proven:
        return f"The supply does not cover {short}: order more stock or cut fewer pieces."
    return (
        f"No bar was found for {short} so far, which proves nothing: give more --seconds, "
        "order more stock or cut fewer pieces."
    )


def _read(path: Path) -> Any:
    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise CommandError(
            f"{path} cannot be read ({error.strerror}): check the name.", returncode=EXIT_BAD_INPUT
        ) from error
    except (UnicodeDecodeError, json.JSONDecodeError) as error:
        raise CommandError(
            f"{path} is not JSON ({error}): send a cut-stock/1 file.", returncode=EXIT_BAD_INPUT
        ) from error


def _write(path: Path, plan: CutPlan) -> None:
    try:
        path.write_text(json.dumps(plan_document(plan), indent=1) + "\n", encoding="utf-8")
    except OSError as error:
        raise CommandError(
            f"{path} cannot be written ({error.strerror}): choose another place.",
            returncode=EXIT_BAD_INPUT,
        ) from error


def _summary(plan: CutPlan) -> str:
    proof = "proven least" if plan.is_proven else f"at least {plan.bound} ({plan.gap:.3%} gap)"
    bars = sum(bar.count for bar in plan.bars)
    lines = [
        f"cost {plan.cost}, {proof}; {bars} bars, {plan.patterns} patterns, {plan.seconds:.2f} s"
    ]
    for bar in plan.bars:
        pieces = ", ".join(f"{number} x {item_id}" for item_id, number in bar.pieces)
        rest = f"{bar.left} kept" if bar.is_kept else f"{bar.left} left"
        lines.append(f"{bar.count} x {bar.stock}: {pieces}; {rest}")
    return "\n".join(lines)
