"""A whole job as one document, for another installation or for the files."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from contractor.engine.screening.version import ENGINE_VERSION
from jobs.models import Job, JobWall, LayoutRecord

SCHEMA = "job-document/1"


def gather(job: Job, *, at: datetime) -> dict[str, Any]:
    """Return the rows of ``job-document/1``; ``JobDocumentShape`` writes them.

    A wall that was built by another engine shows that engine's layout, which came with it.
    """
    walls = list(job.walls.select_related("layout__survey").order_by("pk"))
    records = {record.wall: record for record in job.layout_records.order_by("pk")}
    names = [wall.wall for wall in walls]
    return {
        "schema": SCHEMA,
        "key": job.document_key,
        "exported_at": at,
        "engine": ENGINE_VERSION,
        "customer": job.site.customer,
        "site": job.site,
        "walls": [_wall(job, wall, records.get(wall.wall)) for wall in walls],
        "job": job,
        "install": getattr(job, "install", None),
        "readings": job.site.readings.filter(wall__in=names).order_by("measured_on", "pk"),
        "reminders": job.reminders.order_by("due_on", "kind", "pk"),
        "care_logs": job.care_logs.select_related("reminder").order_by("logged_at", "pk"),
        "visit_requests": job.visit_requests.order_by("pk"),
    }


def _wall(job: Job, wall: JobWall, record: LayoutRecord | None) -> dict[str, Any]:
    layout = wall.layout
    shown = record or layout
    engine = record.engine if record else layout.screening.get("engine_version", ENGINE_VERSION)
    return {
        "wall": wall.wall,
        "surveys": job.site.surveys.filter(wall=wall.wall).order_by("revision"),
        "layout": {
            "revision": layout.survey.revision,
            "engine": engine,
            "outcome": shown.outcome,
            "layout": shown.layout,
            "screening": shown.screening,
            "bill": shown.bill,
        },
    }
