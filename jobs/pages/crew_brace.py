"""One brace on the crew's phone: shown, saved by itself, refused beside the input."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from contractor.engine.units import format_length
from jobs.models import BraceRecord, InstallRecord
from jobs.pages import crew_forms
from jobs.pages.common import new_once_key, page
from jobs.pages.crew import crew_only, see_other, send_once
from jobs.pages.inputs import Form
from jobs.services import installs
from jobs.services.homeowner import local_day


@crew_only
@require_http_methods(["GET", "HEAD", "POST"])
def brace(request: HttpRequest, branches: list[int], brace_pk: int) -> HttpResponse:
    """Show the form of one brace, or save it."""
    rows = BraceRecord.objects.select_related("install__job__site")
    row = rows.filter(pk=brace_pk, install__branch__in=branches).first()
    if row is None:
        raise Http404
    form = crew_forms.brace_form(row, local_day(row.install.job, timezone.now()))
    if request.method != "POST":
        return _page(request, row, form)
    form.keep_typed(request.POST.dict())
    values, errors = crew_forms.read_brace(row, request.POST)
    form.show(errors)
    if not errors:
        at = timezone.now()
        form.errors += send_once(request, lambda: installs.record_brace(row.pk, at=at, **values))
    if form.is_refused:
        return _page(request, row, form, status=400)
    return see_other(f"/crew/jobs/{row.install.job_id}?saved={row.mark}")


def _page(request: HttpRequest, row: BraceRecord, form: Form, status: int = 200) -> HttpResponse:
    skips = [one for one in form.inputs if one.name.startswith("skip-")]
    facts = {
        "brace": row,
        "job": row.install.job,
        "is_open": row.install.status == InstallRecord.Status.OPEN,
        "form": form,
        "measures": [one for one in form.inputs if not one.name.startswith("skip-")],
        "skips": skips,
        "skipped": any(one.value or one.error for one in skips),
        "planned_height": format_length(row.planned_height_ticks),
        "refused": [form] if form.is_refused else [],
        "key": new_once_key(),
    }
    return page(request, "pages/crew_brace.html", facts, status=status)
