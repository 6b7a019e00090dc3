"""Jobs and visit requests over HTTP."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.utils import timezone
from rest_framework.response import Response

from contractor.api.access import EVERYONE, FIELD, OFFICE, WAREHOUSE
from contractor.api.commands import Order, command
from contractor.api.exporting import Exports
from contractor.api.resources import Changes, Creates
from contractor.api.shaping import listed
from jobs.api import job_shapes
from jobs.api.document_views import TravelsAsDocument
from jobs.api.record_shapes import InstallShape
from jobs.models import InstallRecord, Job, VisitRequest
from jobs.services import installs, jobs, links, material, readings


class JobViews(TravelsAsDocument, Exports, Creates, Changes):
    queryset = Job.objects.prefetch_related(*listed("walls", "blackouts", "releases"))
    serializer_class = job_shapes.JobShape
    create_shape = job_shapes.OpenJobShape
    change_shape = job_shapes.WishesShape
    branch_path = "branch"
    area = "jobs"
    ordering_fields = ("created_at", "due", "severity")
    filterset_fields = ("branch", "site", "status", "severity")
    access = {
        "list": EVERYONE,
        "retrieve": EVERYONE,
        "create": OFFICE,
        "partial_update": OFFICE,
        "release": OFFICE,
        "block_days": OFFICE,
        "change_layout": OFFICE,
        "reserve": WAREHOUSE,
        "release_material": WAREHOUSE,
        "cancel": OFFICE,
        "close": OFFICE,
        "start_install": FIELD,
        "homeowner_link": OFFICE,
        "ask_visit": FIELD,
        "document": OFFICE,
        "import_job": OFFICE,
        "export": EVERYONE,
    }
    seals_answers = True  # one of them is the homeowner's secret link

    def create_row(self, values: dict[str, Any]) -> Job:
        site, layouts = values.pop("site"), values.pop("layouts")
        return jobs.open_job(
            site_pk=site.pk, layout_pks=[layout.pk for layout in layouts], **values
        )

    def change_row(self, row: Job, values: dict[str, Any], if_match: int | None) -> Job:
        return jobs.change_job(row.pk, if_match=if_match, **values)

    @command(body=job_shapes.EngineerReleaseShape)
    def release(self, order: Order) -> Job:
        """Let a job in review be built, on the word of a licensed engineer."""
        return jobs.release_job(order.row.pk, if_match=order.if_match, **order.values)

    @command(body=job_shapes.BlackoutShape)
    def block_days(self, order: Order) -> Job:
        """Days on which the homeowner cannot have the crew."""
        return jobs.block_days(order.row.pk, if_match=order.if_match, **order.values)

    @command(body=job_shapes.ChangeLayoutShape)
    def change_layout(self, order: Order) -> Job:
        """Build another layout on one wall, after it was measured again."""
        layout = order.values["layout"]
        return jobs.change_layout(order.row.pk, layout_pk=layout.pk, if_match=order.if_match)

    @command()
    def reserve(self, order: Order) -> Job:
        """Make the kit of this job and reserve every part of it, or say what is short."""
        return material.reserve_job(order.row.pk, if_match=order.if_match, at=timezone.now())

    @command()
    def release_material(self, order: Order) -> Job:
        """Give the reserved parts back."""
        return material.release_job_material(order.row.pk, if_match=order.if_match)

    @command()
    def cancel(self, order: Order) -> Job:
        """Call the job off; what was reserved is free again."""
        return material.cancel_job(order.row.pk, if_match=order.if_match)

    @command()
    def close(self, order: Order) -> Job:
        """End the follow-up; open reminders are cancelled."""
        return jobs.close_job(order.row.pk, if_match=order.if_match)

    @command(body=job_shapes.DayShape, answer=InstallShape, status=201)
    def start_install(self, order: Order) -> InstallRecord:
        """Open the install record with one row per planned brace."""
        on = order.values.get("on") or timezone.localdate()
        return installs.start_install(order.row.pk, on=on, if_match=order.if_match)

    @command(answer=job_shapes.LinkShape, status=201, if_match=False)
    def homeowner_link(self, order: Order) -> Response:
        """Make the homeowner's secret link; it is shown only here, earlier ones stop working."""
        token = links.make_link(order.row.pk, at=timezone.now())
        return Response({"url": f"{settings.SITE_URL}/h/{token}"}, status=201)

    @command(
        body=job_shapes.AskVisitShape,
        answer=job_shapes.VisitRequestShape,
        status=201,
        if_match=False,
    )
    def ask_visit(self, order: Order) -> VisitRequest:
        """Ask for a service visit."""
        return readings.ask_for_visit(order.row.pk, on=timezone.localdate(), **order.values)


class VisitRequestViews(Exports):
    queryset = VisitRequest.objects.all()
    serializer_class = job_shapes.VisitRequestShape
    branch_path = "branch"
    area = "jobs"
    access = {"list": EVERYONE, "export": EVERYONE, "retrieve": EVERYONE, "finish": FIELD}
    filterset_fields = ("branch", "job", "status", "reason")

    @command(body=job_shapes.FinishRequestShape)
    def finish(self, order: Order) -> VisitRequest:
        """The visit took place, or is not needed."""
        return readings.finish_visit_request(order.row.pk, if_match=order.if_match, **order.values)
