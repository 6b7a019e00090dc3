"""From survey to a loaded kit over a real socket, with the generated client and nothing else."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from contractor import queue
from contractor.api.models import Branch
from jobs.models import Job
from tests.client.generating import client_folder
from tests.conftest import ApiTester

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def connect(live_server: Any, owner: ApiTester) -> Iterator[Callable[[], Any]]:
    """Return a function that gives a connected client."""
    sys.path.insert(0, str(client_folder()))
    from tautline_client import AuthenticatedClient

    def make() -> Any:
        return AuthenticatedClient(
            base_url=live_server.url,
            token=owner.secret,
            raise_on_unexpected_status=True,
            timeout=60,
        )

    yield make
    sys.path.remove(str(client_folder()))


def test_survey_to_kit(
    connect: Callable[[], Any], stocked: Branch, survey: Callable[..., dict[str, Any]]
) -> None:
    from tests.client import survey_to_kit

    told = survey_to_kit.walk(
        connect(),
        branch=stocked.pk,
        document=survey("perpendicular-16"),
        due=timezone.localdate() + timedelta(days=21),
        work=queue.drain,
    )
    assert told.layout.outcome == "within_screening_limits"
    assert told.layout.brace_count == len(told.layout.layout["braces"])
    assert told.drawing.startswith("<svg")
    assert told.job.status == "reserved"
    assert [plan.status for plan in told.plans] == ["done"] * len(told.plans)
    sawn = sum(len(bar.pieces) for plan in told.plans for bar in plan.bars)
    assert sawn >= told.layout.brace_count
    assert told.kit.status == "loaded"
    assert all(line.pulled == line.quantity for line in told.kit.lines)
    assert Job.objects.get(pk=told.job.id).kit_id == told.kit.id


def test_a_refusal_is_a_typed_problem(
    connect: Callable[[], Any], stocked: Branch, survey: Callable[..., dict[str, Any]]
) -> None:
    from tests.client import survey_to_kit

    client = connect()
    site = survey_to_kit.open_site(client, stocked.pk)
    with pytest.raises(survey_to_kit.RefusedError) as refused:
        survey_to_kit.lay_out(client, site, survey(framming={}))
    assert refused.value.problem.code == "invalid_input"
    assert refused.value.problem.errors[0].pointer == "#/document/framming"
