"""A whole job leaves as ``job-document/1`` and comes back from one."""

from __future__ import annotations

from collections.abc import Set
from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from contractor.api import idempotency
from contractor.api.bulk import DRY_RUN
from contractor.api.commands import Order, command
from contractor.api.resources import BranchViewSet
from contractor.api.views import is_switched_on
from jobs.api.document_shapes import ImportedJobShape, ImportJobShape, JobDocumentShape
from jobs.models import Job
from jobs.services import documents, importing


def _work_out(view: Any, order: Order) -> Any:
    return importing.compute(order.values["branch"], order.values["document"])


class TravelsAsDocument(BranchViewSet):
    """Adds ``GET /jobs/17/document`` and ``POST /jobs/import``."""

    def known_parameters(self) -> Set[str]:
        known = super().known_parameters()
        return known | {"dry_run"} if self.action == "import_job" else known

    @extend_schema(responses=JobDocumentShape)
    @action(detail=True)
    def document(self, request: Request, pk: str) -> Response:
        """The whole job as ``job-document/1``, in US units; it holds the homeowner's address.

        Photos, stock, visits and secret links do not travel.
        """
        row: Job = self.get_object()
        self.units = "us"
        gathered = documents.gather(row, at=timezone.now())
        return Response(self.write(JobDocumentShape, gathered))

    @extend_schema(parameters=[DRY_RUN])
    @command(
        body=ImportJobShape,
        answer=ImportedJobShape,
        detail=False,
        path="import",
        compute=_work_out,
    )
    def import_job(self, order: Order) -> Response:
        """Read a ``job-document/1``: all of it or nothing, and the same document once.

        Layouts and screenings are worked out again; of a wall that was built, the document's
        are kept as a record when they differ. What was reserved or planned there is not here.
        """
        is_dry_run = is_switched_on(self.request, "dry_run")
        values = order.values
        report = importing.import_job(
            values["branch"].pk,
            values["document"],
            order.computed,
            keep_consent=values["keep_consent"],
            at=timezone.now(),
        )
        is_new = report.fate == "created"
        job = None if report.job is None or (is_new and is_dry_run) else report.job.pk
        told = {
            "is_stored": is_new and not is_dry_run,
            "fate": report.fate,
            "job": job,
            "steps": report.steps,
        }
        answer = Response(self.write(ImportedJobShape, told))
        if is_dry_run:
            raise idempotency.Undone(answer)
        return answer
