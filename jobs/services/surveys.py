"""Surveys come in, layouts go out."""

from __future__ import annotations

import json
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

from django.conf import settings

from contractor.api import events
from contractor.api.models import Company
from contractor.api.transactions import service
from contractor.engine.chain import Assessment, assess
from contractor.engine.survey_reader import read_survey
from contractor.errors import NotFoundError
from inventory.price_list import catalogue_document
from jobs import locks
from jobs.models import BraceLayout, Survey

RATES = Path(settings.BASE_DIR) / "fixtures" / "rates.json"
OWN_CHOICES = ("hardware", "layout_rules")


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


def company_settings(company: Company) -> dict[str, Any]:
    """Return what the engine needs to know of a company: parts and prices from the catalogue,
    rates, and where it differs from the defaults its hardware and layout rules."""
    own = {name: company.settings[name] for name in OWN_CHOICES if name in company.settings}
    rates = company.settings.get("rates") or default_rates()
    return {"parts": catalogue_document(company), "rates": rates, **own}


@cache
def default_rates() -> dict[str, Any]:
    """Return the rates of a company that has not entered its own."""
    rates: dict[str, Any] = json.loads(RATES.read_text())
    return rates


def compute(survey_pk: int) -> Assessment:
    """Return what the engine makes of a survey under the company's settings of today.

    Surveys never change, so nothing is locked while the engine computes.
    """
    survey = _survey(survey_pk)
    return assess(survey.document, settings=company_settings(survey.branch.company))


@service
def keep(survey_pk: int, answer: Assessment) -> BraceLayout:
    """Keep a computed layout; the same survey under the same settings gives the same row."""
    survey = _survey(survey_pk)
    layout, is_new = BraceLayout.objects.get_or_create(
        survey=survey,
        input_hash=answer.input_hash,
        defaults={
            "branch": survey.branch,
            "outcome": _outcome(answer),
            "layout": answer.layout,
            "screening": answer.screening,
            "bill": answer.bill,
            "drawings": answer.drawings,
            "brace_count": len(answer.layout["braces"]),
            "labour_minutes": answer.labour_minutes,
            "weight_lb": answer.weight_lb,
            "cost_cents": answer.cost_cents,
        },
    )
    if is_new:
        events.record("layout.made", layout, branch=survey.branch, outcome=layout.outcome)
    return layout


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
