"""The crew's phone page: the jobs of their branches, the record of one install.

Made for a weak connection: no script, each brace is a form of its own, and a form that was sent
twice takes effect once.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, cast

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.http.response import HttpResponseBase
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from contractor.api.access import FIELD, Who
from contractor.api.models import User
from contractor.engine.errors import InputError
from contractor.engine.units import format_length
from contractor.errors import DomainError
from jobs.install_steps import CAUTIONS
from jobs.models import InstallRecord, Job
from jobs.pages import crew_forms
from jobs.pages.common import new_once_key, page
from jobs.pages.inputs import Form, sentence
from jobs.services import forms, installs, zero_readings
from jobs.services.homeowner import local_day
from jobs.services.installs import missing_in

WHY = "Measure the wall, or write why it is left out."
SHOWN = (Job.Status.INSTALLING, Job.Status.PLANNED)
View = Callable[..., HttpResponseBase]


def crew_only(view: View) -> View:
    """Let in people who hold a field role somewhere; ``branches`` is where."""

    @wraps(view)
    def guard(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        branches = Who(cast(User, request.user)).branches(FIELD)
        if not branches:
            return page(request, "pages/crew_refused.html", {}, status=403)
        return view(request, branches, *args, **kwargs)

    return login_required(guard, login_url="login")


@crew_only
@require_GET
def job_list(request: HttpRequest, branches: list[int]) -> HttpResponse:
    """Jobs that are being built, then those that are planned, soonest due first."""
    rows = Job.objects.filter(branch__in=branches, status__in=SHOWN).select_related("site")
    jobs = sorted(rows.order_by("due", "pk")[:200], key=lambda job: SHOWN.index(_status(job)))
    return page(request, "pages/crew_jobs.html", {"jobs": jobs, "key": new_once_key()})


def _status(job: Job) -> Job.Status:
    return Job.Status(job.status)


@crew_only
@require_POST
def start(request: HttpRequest, branches: list[int], job_pk: int) -> HttpResponse:
    """The crew is on site: open the record."""
    job = find_job(branches, job_pk)
    if job.status != Job.Status.INSTALLING:
        now = timezone.now()
        refusal = send_once(request, lambda: installs.start_install(job.pk, on=local_day(job, now)))
        if refusal:
            facts = {"title": job.title, "errors": refusal}
            return page(request, "pages/crew_stop.html", facts, status=409)
    return see_other(f"/crew/jobs/{job.pk}")


@crew_only
@require_GET
def record(request: HttpRequest, branches: list[int], job_pk: int) -> HttpResponse:
    return record_page(request, find_job(branches, job_pk))


@crew_only
@require_POST
def close(request: HttpRequest, branches: list[int], job_pk: int) -> HttpResponse:
    """Sign off and close a complete record."""
    job = find_job(branches, job_pk)
    install = install_of(job)
    form = crew_forms.close_form(install)
    form.keep_typed(request.POST.dict())
    values = crew_forms.read_close(request, local_day(job, timezone.now()))
    if not values["no_zero_reading"]:
        form.show({one.name: WHY for one in form.inputs if one.name == "no-zero"})
    if not form.is_refused:
        form.errors += send_once(request, lambda: installs.close_install(install.pk, **values))
    if form.is_refused:
        return record_page(request, job, close_form=form, status=409)
    return see_other(f"/crew/jobs/{job.pk}?saved=closed")


def send_once(request: HttpRequest, act: Callable[[], object]) -> list[str]:
    """Run ``act`` unless this form took effect before; return the refusal, if any, as words."""
    now = timezone.now()
    try:
        forms.once(f"user:{request.user.pk}", request.POST.get("key", ""), act, at=now)
    except (DomainError, InputError) as refusal:
        return [sentence(refusal)]
    return []


def record_page(
    request: HttpRequest,
    job: Job,
    *,
    close_form: Form | None = None,
    photo_form: Form | None = None,
    status: int = 200,
) -> HttpResponse:
    """Show the braces with what they lack, the cautions, the photos and the sign-off."""
    install = install_of(job)
    braces = list(install.braces.order_by("pk"))
    close_form = close_form or crew_forms.close_form(install)
    photo_form = photo_form or crew_forms.photo_form(braces)
    facts = {
        "job": job,
        "install": install,
        "readings": _zero_readings(job, install),
        "is_open": install.status == InstallRecord.Status.OPEN,
        "cautions": CAUTIONS,
        "braces": [(brace, crew_forms.step_words(missing_in(brace))) for brace in braces],
        "saved": request.GET.get("saved", ""),
        "photos": install.photos.select_related("brace").order_by("pk"),
        "close_form": close_form,
        "photo_form": photo_form,
        "refused": [form for form in (close_form, photo_form) if form.is_refused],
        "key": new_once_key(),
    }
    return page(request, "pages/crew_record.html", facts, status=status)


def _zero_readings(job: Job, install: InstallRecord) -> list[tuple[str, str]]:
    """Return (mark, what was read there) of each mark, "" where nobody has measured."""
    known = zero_readings.measured(install)
    rows = {spot: known.get(spot) for spot in zero_readings.spots_of(job)}
    return [
        (zero_readings.mark_words(spot), format_length(row.value_ticks or 0, 64) if row else "")
        for spot, row in rows.items()
    ]


def find_job(branches: list[int], job_pk: int) -> Job:
    """Return a job of these branches; Http404 for others alike."""
    rows = Job.objects.select_related("site", "branch__company")
    job = rows.filter(branch__in=branches, pk=job_pk).first()
    if job is None:
        raise Http404
    return job


def install_of(job: Job) -> InstallRecord:
    install = InstallRecord.objects.filter(job=job).first()
    if install is None:
        raise Http404
    return install


def see_other(address: str) -> HttpResponse:
    """Answer 303, so that reloading the next page does not send the form again."""
    response = HttpResponseRedirect(address)
    response.status_code = 303
    response["Cache-Control"] = "no-store"
    return response
