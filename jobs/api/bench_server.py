"""The server that ``manage.py bench api`` asks: many jobs, our views, and bare ones beside them.

The bare views read the same rows with the same four queries and answer the same document, with
nothing of ours around them: no token, no roles, no scopes, no paging, no shapes.
"""

from __future__ import annotations

import json
import sys
from collections import defaultdict
from collections.abc import Iterable
from datetime import date, timedelta
from typing import Any

import django

django.setup()

from django.conf import settings  # noqa: E402 - models exist only after the set-up
from django.core.wsgi import get_wsgi_application  # noqa: E402
from django.http import HttpRequest, JsonResponse  # noqa: E402
from django.urls import include, path  # noqa: E402
from django.utils import timezone  # noqa: E402

from contractor.api.models import Branch, Company, Membership, User  # noqa: E402
from contractor.api.services.tokens import issue_token  # noqa: E402
from jobs.models import (  # noqa: E402
    Blackout,
    BraceLayout,
    Customer,
    EngineerRelease,
    Job,
    JobWall,
    Site,
    Survey,
)

PAGE = 50
SITES = 1000
STATUSES = [status for status in Job.Status.values if status != Job.Status.RESERVED]
FIRST_DUE = date(2026, 1, 5)
COLUMNS = (
    *("id", "branch_id", "site_id", "title", "status", "severity", "due", "labour_minutes"),
    *("weight_lb", "brace_count", "skills", "min_crew_size", "weekdays", "permit_release"),
    *("material_ready", "kit_id", "version", "created_at", "updated_at"),
)


def fill(count: int) -> str:
    """Store ``count`` jobs of one branch, each with one wall; return a token's secret."""
    branch = Branch.objects.create(company=Company.objects.create(name="bench"), name="bench")
    person = User.objects.create_user("bench")
    Membership.objects.create(user=person, branch=branch, role="owner")
    layouts = _layouts(branch, min(SITES, count))
    for start in range(0, count, 5000):
        numbers = range(start, min(start + 5000, count))
        rows = Job.objects.bulk_create(_job(number, layouts[number % SITES]) for number in numbers)
        JobWall.objects.bulk_create(
            JobWall(job=row, wall="north wall", layout=layouts[number % SITES])
            for number, row in zip(numbers, rows, strict=True)
        )
        Blackout.objects.bulk_create(
            Blackout(job=row, first=row.due, last=row.due) for row in rows[::10]
        )
    expires_at = timezone.now() + timedelta(days=1)
    return issue_token(person, name="bench", scopes=["*:read"], expires_at=expires_at)[1]


def _layouts(branch: Branch, count: int) -> list[BraceLayout]:
    customer = Customer.objects.create(branch=branch, name="bench")
    sites = Site.objects.bulk_create(
        Site(branch=branch, customer=customer, label=f"{number} Elm Road", time_zone="UTC")
        for number in range(count)
    )
    surveys = Survey.objects.bulk_create(
        Survey(
            branch=branch,
            site=site,
            wall="north wall",
            revision=1,
            measured_on=FIRST_DUE,
            document={},
        )
        for site in sites
    )
    empty: dict[str, Any] = {"layout": {}, "screening": {}, "bill": {}, "brace_count": 4}
    return BraceLayout.objects.bulk_create(
        BraceLayout(
            branch=branch,
            survey=survey,
            outcome=BraceLayout.Outcome.WITHIN,
            input_hash="0" * 64,
            labour_minutes=500,
            weight_lb=400.0,
            cost_cents=100_000,
            **empty,
        )
        for survey in surveys
    )


def _job(number: int, layout: BraceLayout) -> Job:
    return Job(
        branch=layout.branch,
        site=layout.survey.site,
        title=f"Brace the north wall, {number}",
        status=STATUSES[number % len(STATUSES)],
        severity=number % 4 + 1,
        due=FIRST_DUE + timedelta(days=number % 700),
        labour_minutes=500,
        weight_lb=400.0,
        brace_count=4,
    )


def bare_list(request: HttpRequest) -> JsonResponse:
    """One page: ``?status=`` filters, ``?before=`` is a key to start below."""
    rows = Job.objects.order_by("-created_at", "-pk")
    if status := request.GET.get("status"):
        rows = rows.filter(status=status).order_by("due", "pk")
    if before := request.GET.get("before"):
        edge = Job.objects.values_list("created_at", flat=True).get(pk=before)
        rows = rows.filter(created_at__lt=edge)
    return JsonResponse({"results": _documents(rows.values(*COLUMNS)[:PAGE])})


def bare_job(request: HttpRequest, pk: int) -> JsonResponse:
    """One row."""
    return JsonResponse(_documents(Job.objects.filter(pk=pk).values(*COLUMNS))[0])


def _documents(rows: Iterable[Any]) -> list[dict[str, Any]]:
    found = list(rows)
    keys = [row["id"] for row in found]
    walls = _by_job(JobWall.objects.filter(job__in=keys).values("job", "wall", "layout"))
    blackouts = _by_job(Blackout.objects.filter(job__in=keys).values("job", "first", "last"))
    releases = _by_job(EngineerRelease.objects.filter(job__in=keys).values("job", "engineer"))
    for row in found:
        for name in ("branch", "site", "kit"):
            row[name] = row.pop(f"{name}_id")
        key = row["id"]
        row |= {"walls": walls[key], "blackouts": blackouts[key], "releases": releases[key]}
    return found


def _by_job(rows: Iterable[Any]) -> dict[int, list[dict[str, Any]]]:
    found: dict[int, list[dict[str, Any]]] = defaultdict(list)
    for row in rows:
        found[row.pop("job")].append(row)
    return found


urlpatterns = [
    path("bare/jobs", bare_list),
    path("bare/jobs/<int:pk>", bare_job),
    path("", include("contractor.urls")),
]


def main(count: int) -> None:
    """Fill the database, serve on a free port, say where on the first line of the output."""
    from waitress.server import create_server

    secret = fill(count)
    keys = list(Job.objects.order_by("pk").values_list("pk", flat=True))
    settings.ROOT_URLCONF = "jobs.api.bench_server"
    server = create_server(get_wsgi_application(), host="127.0.0.1", port=0, threads=4)
    ready = {"port": server.effective_port, "secret": secret, "first": keys[0], "last": keys[-1]}
    sys.stdout.write(json.dumps(ready) + "\n")
    sys.stdout.flush()
    server.run()


if __name__ == "__main__":
    main(int(sys.argv[1]))
