"""From survey to a loaded kit, written as an integrator would: only the generated client.

Nothing of Tautline is imported here; the types of the client are checked by a test.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any, TypeVar

from tautline_client import AuthenticatedClient
from tautline_client.api.brace_layouts import brace_layouts_drawing_svg_retrieve
from tautline_client.api.customers import customers_create
from tautline_client.api.cutting_plans import (
    cutting_plans_create,
    cutting_plans_list,
    cutting_plans_record_sawn_create,
    cutting_plans_start_sawing_create,
)
from tautline_client.api.jobs import jobs_create, jobs_reserve_create
from tautline_client.api.kits import (
    kits_load_create,
    kits_pull_create,
    kits_retrieve,
    kits_stage_create,
    kits_start_pulling_create,
)
from tautline_client.api.parts import parts_list
from tautline_client.api.receipts import receipts_create
from tautline_client.api.sites import sites_create
from tautline_client.api.surveys import surveys_create, surveys_lay_out_create
from tautline_client.models import (
    CustomerShapeRequest,
    CuttingPlanShape,
    DeliveryShapeRequest,
    JobShape,
    KitShape,
    LayoutShape,
    LengthRequest,
    LengthRequestUnit,
    OpenJobShapeRequest,
    PartShape,
    PartShapeKind,
    Problem,
    PullShapeRequest,
    ReceiveShapeRequest,
    RequestCutsShapeRequest,
    SawnShapeRequest,
    SiteShapeRequest,
    SurveyShapeRequest,
    SurveyShapeRequestDocument,
)
from tautline_client.types import Response

T = TypeVar("T")


class RefusedError(Exception):
    """The service answered with problem details."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(f"{problem.code}: {problem.detail}")
        self.problem = problem


@dataclass
class Told:
    """What the story found out on its way."""

    layout: LayoutShape
    drawing: str
    job: JobShape
    plans: list[CuttingPlanShape]
    kit: KitShape


def key() -> str:
    return f'"{uuid.uuid4()}"'


def done(answer: Response[T | Problem]) -> T:
    """Return the document of ``answer``. Raises RefusedError."""
    found = answer.parsed
    if isinstance(found, Problem):
        raise RefusedError(found)
    if found is None:
        raise RuntimeError(f"an empty answer: {answer.status_code}")
    return found


def walk(
    client: AuthenticatedClient,
    *,
    branch: int,
    document: dict[str, Any],
    due: date,
    work: Callable[[], object],
) -> Told:
    """Go from survey to loaded kit; ``work`` lets the service do what it has queued."""
    receive_stock(client, branch)
    site = open_site(client, branch)
    layout = lay_out(client, site, document)
    drawing = done(brace_layouts_drawing_svg_retrieve.sync_detailed(str(layout.id), client=client))
    job = open_job(client, site, layout.id, due)
    job = done(
        jobs_reserve_create.sync_detailed(
            str(job.id), client=client, idempotency_key=key(), if_match=f'"job-{job.id}-v1"'
        )
    )
    if job.kit is None:
        raise RuntimeError("a reserved job without a kit")
    plans = saw(client, job.kit, work)
    return Told(layout, drawing, job, plans, pull(client, job.kit))


def receive_stock(client: AuthenticatedClient, branch: int) -> None:
    parts = done(parts_list.sync_detailed(client=client, limit=200)).results
    lines = [delivery(part) for part in parts]
    for start in range(0, len(lines), 50):
        body = ReceiveShapeRequest(branch=branch, lines=lines[start : start + 50])
        done(receipts_create.sync_detailed(client=client, body=body, idempotency_key=key()))


def delivery(part: PartShape) -> DeliveryShapeRequest:
    if part.kind != PartShapeKind.BAR:
        return DeliveryShapeRequest(part=part.id, quantity=500, cents=10_000)
    feet = 20.0 if part.role == "beam" else 8.0
    length = LengthRequest(value=feet, unit=LengthRequestUnit.FT)
    return DeliveryShapeRequest(part=part.id, quantity=20, cents=90_000, length=length)


def open_site(client: AuthenticatedClient, branch: int) -> int:
    person = CustomerShapeRequest(branch=branch, name="J. Fern", email="fern@example.org")
    customer = done(
        customers_create.sync_detailed(client=client, body=person, idempotency_key=key())
    )
    place = SiteShapeRequest(
        branch=branch, customer=customer.id, label="5 Fern Street", time_zone="America/New_York"
    )
    site: int = done(
        sites_create.sync_detailed(client=client, body=place, idempotency_key=key())
    ).id
    return site


def lay_out(client: AuthenticatedClient, site: int, document: dict[str, Any]) -> LayoutShape:
    body = SurveyShapeRequest(
        site=site,
        wall="north wall",
        measured_on=date(2026, 2, 2),
        document=SurveyShapeRequestDocument.from_dict(document),
    )
    survey = done(surveys_create.sync_detailed(client=client, body=body, idempotency_key=key()))
    return done(
        surveys_lay_out_create.sync_detailed(str(survey.id), client=client, idempotency_key=key())
    )


def open_job(client: AuthenticatedClient, site: int, layout: int, due: date) -> JobShape:
    body = OpenJobShapeRequest(
        title="Brace the north wall", severity=2, due=due, site=site, layouts=[layout]
    )
    return done(jobs_create.sync_detailed(client=client, body=body, idempotency_key=key()))


def saw(
    client: AuthenticatedClient, kit: int, work: Callable[[], object]
) -> list[CuttingPlanShape]:
    body = RequestCutsShapeRequest(kits=[kit])
    done(cutting_plans_create.sync_detailed(client=client, body=body, idempotency_key=key()))
    work()
    plans = done(cutting_plans_list.sync_detailed(client=client, kits=kit)).results
    return [saw_one(client, plan) for plan in plans]


def saw_one(client: AuthenticatedClient, plan: CuttingPlanShape) -> CuttingPlanShape:
    answer = cutting_plans_start_sawing_create.sync_detailed(
        str(plan.id), client=client, idempotency_key=key(), if_match="*"
    )
    for bar in plan.bars:
        tag = answer.headers["ETag"]  # each step is based on the version before it
        answer = cutting_plans_record_sawn_create.sync_detailed(
            str(plan.id),
            client=client,
            body=SawnShapeRequest(bar=bar.id),
            idempotency_key=key(),
            if_match=tag,
        )
        done(answer)
    return done(answer)


def pull(client: AuthenticatedClient, kit: int) -> KitShape:
    name = str(kit)
    answer: Response[KitShape | Problem] = kits_start_pulling_create.sync_detailed(
        name, client=client, idempotency_key=key(), if_match="*"
    )
    for line in done(answer).lines:
        body = PullShapeRequest(line=line.id, quantity=line.quantity)
        answer = kits_pull_create.sync_detailed(
            name,
            client=client,
            body=body,
            idempotency_key=key(),
            if_match=answer.headers["ETag"],
        )
        done(answer)
    for step in (kits_stage_create, kits_load_create):
        tag = answer.headers["ETag"]
        answer = step.sync_detailed(name, client=client, idempotency_key=key(), if_match=tag)
        done(answer)
    found = kits_retrieve.sync_detailed(name, client=client).parsed
    if not isinstance(found, KitShape):
        raise TypeError(f"no kit: {found!r}")
    return found
