"""Lay out the braces of one surveyed wall: wall-survey/1 in, brace-layout/1 out."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from contractor.engine.errors import InputError
from contractor.engine.layout.summary import summary
from contractor.engine.screened_layout import lay_out_by_rule, lay_out_screened
from contractor.engine.survey_reader import read_survey

EXIT_BAD_INPUT = 2


class Command(BaseCommand):
    help = "Lay out braces for a wall-survey/1 file. Screening only, not engineering design."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, help="wall-survey/1 file")
        parser.add_argument("--json", type=Path, help="write the brace-layout/1 answer here")
        parser.add_argument(
            "--no-screening", action="store_true", help="plain rules, without the screening limit"
        )
        parser.add_argument("--units", choices=("us", "si"), default="us")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            survey = read_survey(_read_json(options["file"]))
            make = lay_out_by_rule if options["no_screening"] else lay_out_screened
            document = make(survey).document(options["units"])
        except InputError as error:
            text = f"{options['file']}: {error.pointer or '/'}: {error.reason} {error.remedy}"
            raise CommandError(" ".join(text.split()), returncode=EXIT_BAD_INPUT) from error
        self.stdout.write(summary(document, survey.name), ending="")
        if options["json"]:
            _write_json(options["json"], document)


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
            f"{path}: This is not JSON ({error}). Give a wall-survey/1 file.",
            returncode=EXIT_BAD_INPUT,
        ) from error


def _write_json(path: Path, document: dict[str, Any]) -> None:
    try:
        path.write_text(json.dumps(document, indent=1, ensure_ascii=False) + "\n", "utf-8")
    except OSError as error:
        raise CommandError(
            f"{path}: {error.strerror}. Name a file that can be written.",
            returncode=EXIT_BAD_INPUT,
        ) from error
