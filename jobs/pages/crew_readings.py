"""The zero reading on the crew's phone: how far the wall stands in on the day it is braced."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from jobs.models import InstallRecord, Job
from jobs.pages.common import Typed, new_once_key, page
from jobs.pages.crew import crew_only, find_job, install_of, see_other, send_once
from jobs.pages.inputs import Form, Input
from jobs.pages.words import words_of
from jobs.services import readings
from jobs.services.homeowner import local_day
from jobs.services.zero_readings import Spot, mark_words, spots_of, unmeasured

INSTRUMENT = "steel rule from a taut line"
AGAIN = "Measured again, it is right"


@crew_only
@require_http_methods(["GET", "HEAD", "POST"])
def zero_readings(request: HttpRequest, branches: list[int], job_pk: int) -> HttpResponse:
    """Show the marks that are still to be measured, or save what was read."""
    job = find_job(branches, job_pk)
    install = install_of(job)
    spots = {f"spot-{n}": spot for n, spot in enumerate(spots_of(job))}
    form = _form(install, spots)
    if request.method != "POST":
        return _page(request, job, form)
    form.keep_typed(request.POST.dict())
    typed = Typed(request.POST, words_of("en"))
    rows = {name: ticks for name in spots if (ticks := typed.length(name)) is not None}
    if not rows and not typed.errors:
        form.errors.append("Write at least one reading.")
    form.show(typed.errors)
    if not form.is_refused:
        _save(request, install, form, {spots[name]: ticks for name, ticks in rows.items()})
    if form.is_refused:
        return _page(request, job, form, status=400)
    return see_other(f"/crew/jobs/{job.pk}?saved=readings")


def _form(install: InstallRecord, spots: dict[str, Spot]) -> Form:
    """Return the marks still open. A form sent twice names marks that are not open any more."""
    left = unmeasured(install)
    hint = 'Such as 3/4" or 19 mm; in from a straight line'
    still_open = {name: spot for name, spot in spots.items() if spot in left}
    return Form([Input(name, mark_words(spot), hint=hint) for name, spot in still_open.items()])


def _save(
    request: HttpRequest, install: InstallRecord, form: Form, values: dict[Spot, int]
) -> None:
    is_sure = request.POST.get("again") == "yes"
    add = _adding(install, values, local_day(install.job, timezone.now()), asks_back=not is_sure)
    form.errors += send_once(request, add)
    if form.errors:
        form.inputs.append(Input("again", AGAIN, kind="checkbox"))


def _adding(
    install: InstallRecord, values: dict[Spot, int], on: date, *, asks_back: bool
) -> Callable[[], None]:
    def add() -> None:
        for wall in sorted({spot.wall for spot in values}):
            readings.add_readings(
                site_pk=install.job.site_id,
                wall=wall,
                rows=[_row(spot, values[spot], on) for spot in sorted(values) if spot.wall == wall],
                source="crew",
                asks_back=asks_back,
            )

    return add


def _row(spot: Spot, ticks: int, on: date) -> dict[str, Any]:
    return {
        "kind": "bow",
        "at_ticks": spot.at_ticks,
        "height_ticks": spot.height_ticks,
        "value_ticks": ticks,
        "measured_on": on,
        "instrument": INSTRUMENT,
        "resolution_ticks": 2,
    }


def _page(request: HttpRequest, job: Job, form: Form, status: int = 200) -> HttpResponse:
    facts = {"job": job, "form": form, "refused": [form] if form.is_refused else []}
    return page(
        request, "pages/crew_readings.html", {**facts, "key": new_once_key()}, status=status
    )
