"""Surveys come in, layouts go out."""

from __future__ import annotations

from datetime import date
from typing import Any

from contractor.api import events
from contractor.api.transactions import service
from contractor.engine.survey_reader import read_survey
from contractor.errors import NotFoundError
from jobs import locks
from jobs.models import BraceLayout, Survey
from jobs.services.assessing import Assessment, assess


@service
def add_survey(*, site_pk: int, wall: str, document: dict[str, Any], measured_on: date) -> Survey:
    """Keep what was measured on a wall as its next revision. InputError for a bad document."""
    read_survey(document)
    site = locks.lock_site(site_pk)
    last = site.surveys.filter(wall=wall).order_by("-revision").first()
    survey = Survey.objects.create(
        branch=site.branch,
        site=site,
        wall=wall,
        revision=last.revision + 1 if last else 1,
        measured_on=measured_on,
        document=document,
    )
    events.record("survey.added", survey, branch=site.branch, wall=wall)
    return survey


def compute(survey_pk: int) -> Assessment:
    """Return what the engine makes of a survey under the company's settings of today.

    Surveys never change, so nothing is locked while the engine computes.
    """
    survey = _survey(survey_pk)
    return assess(survey.document, survey.branch.company)


@service
def keep(survey_pk: int, answer: Assessment) -> BraceLayout:
    """Keep a computed layout; the same survey under the same settings gives the same row."""
    survey = _survey(survey_pk)
    layout, is_new = layout_of(survey, answer)
    if is_new:
        events.record("layout.made", layout, branch=survey.branch, outcome=layout.outcome)
    return layout


def layout_of(survey: Survey, answer: Assessment) -> tuple[BraceLayout, bool]:
    """Return the row of a computed layout, and whether it is new."""
    return BraceLayout.objects.get_or_create(
        survey=survey,
        input_hash=answer.input_hash,
        defaults={
            "branch": survey.branch,
            "outcome": _outcome(answer),
            "layout": answer.layout,
            "screening": answer.screening,
            "bill": answer.bill or {"lines": []},
            "drawings": answer.drawings,
            "brace_count": len(answer.layout["braces"]),
            "labour_minutes": answer.labour_minutes,
            "weight_lb": answer.weight_lb,
            "cost_cents": answer.cost_cents,
        },
    )


def lay_out(survey_pk: int) -> BraceLayout:
    """Compute layout, screening and bill of a survey and keep them."""
    return keep(survey_pk, compute(survey_pk))


def _survey(survey_pk: int) -> Survey:
    survey = Survey.objects.select_related("branch__company").filter(pk=survey_pk).first()
    if survey is None:
        raise NotFoundError(f"There is no survey {survey_pk}.")
    return survey


def _outcome(answer: Assessment) -> str:
    if answer.layout["no_answer"] is not None:
        return BraceLayout.Outcome.NO_LAYOUT
    if answer.screening["outcome"] == "within screening limits":
        return BraceLayout.Outcome.WITHIN
    return BraceLayout.Outcome.REVIEW
