"""Plan install work: install-sched/1 in, install-plan/1 out; or re-plan after events."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from contractor.engine.errors import InputError
from contractor.engine.rostering.events import read_events
from contractor.engine.rostering.plan_document import plan_to_document, read_visits
from contractor.engine.rostering.reading import read_instance
from contractor.engine.rostering.search import Progress
from contractor.engine.rostering.summary import plan_summary, replan_summary

EXIT_BAD_INPUT = 2
MODES = ("penalty", "fewest-moves")
Say = Callable[[Progress], None]


class Command(BaseCommand):
    help = "Plan the crews of an install-sched/1 file, or re-plan a published plan after events."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, help="install-sched/1 file")
        parser.add_argument("--seconds", type=float, help="time limit (30, re-plans 18)")
        parser.add_argument("--rounds", type=int, help="work limit that gives the same plan twice")
        parser.add_argument("--seed", type=int, default=1)
        parser.add_argument("--json", type=Path, help="write the install-plan/1 document here")
        parser.add_argument("--published", type=Path, help="install-plan/1 file to change")
        parser.add_argument("--events", type=Path, help="list of events since then")
        parser.add_argument("--mode", choices=MODES, help="default penalty")
        parser.add_argument("--progress", action="store_true", help="say each improvement")
        parser.add_argument("--now", help="what started before this day stays (YYYY-MM-DD)")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            _check_options(options)
            say = self._say if options["progress"] else _say_nothing
            solve = _replan if options["published"] else _plan
            text, document = solve(options, say)
        except InputError as error:
            line = f"{options['file']}: {error.pointer or '/'}: {error.reason} {error.remedy}"
            raise CommandError(" ".join(line.split()), returncode=EXIT_BAD_INPUT) from error
        self.stdout.write(text)
        if options["json"]:
            _write_json(options["json"], document)

    def _say(self, progress: Progress) -> None:
        self.stderr.write(
            f"{progress.seconds:7.1f} s  cost {progress.cost}, bound {progress.bound}"
            f"  ({progress.stage})"
        )


def _say_nothing(progress: Progress) -> None:
    """Keep quiet while the plan is computed."""


def _check_options(options: dict[str, Any]) -> None:
    seconds, rounds = options["seconds"], options["rounds"]
    if seconds is not None and not 0 < seconds <= 86_400:
        raise InputError("bad_limit", "--seconds", "This is no time limit.", "Give 1 to 86400.")
    if rounds is not None and not 0 <= rounds <= 10**6:
        raise InputError("bad_limit", "--rounds", "This is no work limit.", "Give 0 to 1000000.")
    if not 0 <= options["seed"] < 2**31:
        raise InputError("bad_seed", "--seed", "This is no seed.", "Give 0 to 2^31 - 1.")
    if options["published"] is None:
        for name in ("events", "mode", "now"):
            if options[name] is not None:
                raise InputError(
                    "published_missing",
                    f"--{name}",
                    "There is no published plan to change.",
                    "Give --published PLAN too.",
                )


def _plan(options: dict[str, Any], say: Say) -> tuple[str, dict[str, object]]:
    from contractor.engine.rostering.optimize import plan

    instance = read_instance(_read_json(options["file"]))
    limit = 30.0 if options["seconds"] is None else options["seconds"]
    found = plan(
        instance, seconds=limit, rounds=options["rounds"], seed=options["seed"], progress=say
    )
    return plan_summary(instance, found), plan_to_document(found)


def _replan(options: dict[str, Any], say: Say) -> tuple[str, dict[str, object]]:
    from contractor.engine.rostering.replan import Mode, replan

    mode: Mode = "fewest-moves" if options["mode"] == "fewest-moves" else "penalty"
    instance = read_instance(_read_json(options["file"]))
    published = read_visits(_read_json(options["published"]), instance)
    events = read_events(_read_json(options["events"]) if options["events"] else [], instance)
    found = replan(
        instance,
        published,
        events,
        mode=mode,
        now=_day(options["now"]),
        seconds=18.0 if options["seconds"] is None else options["seconds"],
        rounds=options["rounds"],
        seed=options["seed"],
        progress=say,
    )
    return replan_summary(found), plan_to_document(found.plan)


def _day(text: str | None) -> date | None:
    try:
        return None if text is None else date.fromisoformat(text)
    except ValueError:
        raise InputError(
            "not_a_date", "--now", f"{text!r} is not a date.", "Write YYYY-MM-DD."
        ) from None


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
            f"{path}: This is not JSON ({error}). Give a JSON file.", returncode=EXIT_BAD_INPUT
        ) from error


def _write_json(path: Path, document: dict[str, object]) -> None:
    try:
        path.write_text(json.dumps(document, indent=1) + "\n", "utf-8")
    except OSError as error:
        raise CommandError(
            f"{path}: {error.strerror}. Name a file that can be written.",
            returncode=EXIT_BAD_INPUT,
        ) from error
