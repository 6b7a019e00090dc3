"""A job leaves as a document and comes in elsewhere: all of it, once, nothing believed."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import pytest

from contractor.api.models import AuditEntry, Branch, Event, User
from jobs.models import (
    BraceLayout,
    BraceRecord,
    Consent,
    Customer,
    Job,
    LayoutRecord,
    Reading,
    Reminder,
    Site,
    Survey,
)
from tests.api.test_problems import assert_problem
from tests.conftest import ApiTester

IMPORT = "/api/v1/jobs/import"
NAMED_IN_THE_FORMAT = ("exported_at",)


def export(client: ApiTester, job: int) -> dict[str, Any]:
    answer = client.get(f"/api/v1/jobs/{job}/document")
    assert answer.status_code == 200, answer.content
    document: dict[str, Any] = answer.json()
    return document


def send(client: ApiTester, branch: Branch, document: Any, **more: Any) -> Any:
    query = "?dry_run=true" if more.pop("dry_run", False) else ""
    return client.post(IMPORT + query, {"branch": branch.pk, "document": document, **more})


def plain(document: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in document.items() if name not in NAMED_IN_THE_FORMAT}


def counts() -> dict[str, int]:
    tables: tuple[Any, ...] = (
        *(AuditEntry, Event, BraceLayout, BraceRecord, Consent, Customer, Job, LayoutRecord),
        *(Reading, Reminder, Site, Survey),
    )
    return {table.__name__: table.objects.count() for table in tables}


@pytest.mark.parametrize("stage", ["opened", "built"])
def test_what_comes_in_goes_out_the_same(
    stage: str,
    request: pytest.FixtureRequest,
    office: ApiTester,
    target: Branch,
    target_office: ApiTester,
) -> None:
    document = export(office, request.getfixturevalue(stage).pk)
    answer = send(target_office, target, document, keep_consent=True)
    assert answer.status_code == 200, answer.content
    told = answer.json()
    assert (told["fate"], told["is_stored"]) == ("created", True)
    assert plain(export(target_office, told["job"])) == plain(document)
    assert not LayoutRecord.objects.exists()


def test_the_document_tells_the_whole_job(office: ApiTester, built: Job) -> None:
    document = export(office, built.pk)
    assert document["schema"] == "job-document/1"
    assert document["customer"]["name"] == "R. Alder"
    assert document["walls"][0]["layout"]["screening"]["disclaimer"]
    assert len(document["install"]["braces"]) == built.brace_count
    assert len(document["readings"]) == 3
    assert {row["status"] for row in document["reminders"]} == {"due"}
    us = office.get(f"/api/v1/jobs/{built.pk}/document?units=si").json()
    assert plain(us) == plain(document)


def test_a_dry_run_tells_all_and_writes_nothing(
    office: ApiTester, built: Job, target: Branch, target_office: ApiTester
) -> None:
    document, before = export(office, built.pk), counts()
    told = send(target_office, target, document, dry_run=True).json()
    assert (told["fate"], told["is_stored"], told["job"]) == ("created", False, None)
    steps = [(step["part"], step["fate"]) for step in told["steps"]]
    assert ("customer", "created") in steps
    assert ("consent", "changed") in steps
    assert ("install", "created") in steps
    assert counts() == before


def test_the_same_document_twice_is_one_job(
    office: ApiTester, built: Job, target: Branch, target_office: ApiTester
) -> None:
    document = export(office, built.pk)
    first = send(target_office, target, document).json()
    before = counts()
    again = send(target_office, target, document).json()
    assert (again["fate"], again["is_stored"]) == ("unchanged", False)
    assert again["job"] == first["job"]
    assert counts() == before


def test_at_home_the_job_is_known(office: ApiTester, built: Job, branch: Branch) -> None:
    told = send(office, branch, export(office, built.pk)).json()
    assert (told["fate"], told["job"]) == ("unchanged", built.pk)


def test_consent_given_to_another_company_is_kept_as_taken_back(
    office: ApiTester, built: Job, target: Branch, target_office: ApiTester
) -> None:
    send(target_office, target, export(office, built.pk))
    consent = Consent.objects.get(customer__branch=target)
    assert (consent.revoked_by, consent.revoked_at is None) == ("import", False)


def test_a_layout_that_nobody_would_find_again_is_recomputed(
    office: ApiTester, opened: Job, target: Branch, target_office: ApiTester
) -> None:
    document = export(office, opened.pk)
    forged = copy.deepcopy(document)
    forged["walls"][0]["layout"]["layout"]["braces"] = []
    forged["walls"][0]["layout"]["screening"]["torque"] = {
        "allowed": {"value": 500, "unit": "lbf ft"}
    }
    told = send(target_office, target, forged).json()
    assert "recomputed" in {step["fate"] for step in told["steps"]}
    assert plain(export(target_office, told["job"])) == plain(document)


def test_a_built_wall_keeps_the_layout_it_was_built_by(
    office: ApiTester, built: Job, target: Branch, target_office: ApiTester
) -> None:
    document = export(office, built.pk)
    document["walls"][0]["layout"]["engine"] = "screening 0.9.0"
    document["walls"][0]["layout"]["layout"]["note"] = "an older engine"
    told = send(target_office, target, document, keep_consent=True).json()
    assert {"recomputed", "kept_as_record"} <= {step["fate"] for step in told["steps"]}
    record = LayoutRecord.objects.get()
    assert (record.engine, record.layout["note"]) == ("screening 0.9.0", "an older engine")
    assert "note" not in BraceLayout.objects.get(survey__site__branch=target).layout
    assert plain(export(target_office, told["job"])) == plain(document)


def test_a_torque_limit_is_not_believed(
    office: ApiTester, built: Job, target: Branch, target_office: ApiTester
) -> None:
    document = export(office, built.pk)
    own = document["install"]["braces"][0]["torque_limit"]["value"]
    for brace in document["install"]["braces"]:
        brace["torque_limit"]["value"] = 500
    told = send(target_office, target, document).json()
    limits = BraceRecord.objects.filter(install__job=told["job"])
    assert set(limits.values_list("torque_limit_lbf_ft", flat=True)) == {own}


def test_a_review_needs_an_engineer_here_too_when_the_layout_is_another(
    office: ApiTester, opened: Job, target: Branch, target_office: ApiTester
) -> None:
    """common practice: an engineer's word holds for the drawing that the engineer saw."""
    document = export(office, opened.pk)
    document["job"]["status"] = "reserved"
    told = send(target_office, target, document).json()
    assert Job.objects.get(pk=told["job"]).status == Job.Status.RELEASED
    changed = [step["detail"] for step in told["steps"] if step["part"] == "status"]
    assert changed == ["reserved there, released here: nothing is reserved."]


@pytest.mark.parametrize(
    ("change", "pointer", "code"),
    [
        (lambda d: d.update(schema="job-document/9"), "#/document/schema", "invalid_choice"),
        (lambda d: d.update(colour="red"), "#/document/colour", "unknown_member"),
        (lambda d: d["job"].update(id=7), "#/document/job/id", "unknown_member"),
        (lambda d: d["job"].update(branch=7), "#/document/job/branch", "unknown_member"),
        (lambda d: d["customer"].pop("name"), "#/document/customer/name", "required"),
        (lambda d: d["site"].update(time_zone="Mars"), "#/document/site/time_zone", "unknown_zone"),
        (
            lambda d: d["walls"][0]["surveys"][0]["document"]["wall"].update(length=20),
            "#/document/walls/0/surveys/0/document/wall/length",
            "quantity_without_unit",
        ),
        (
            lambda d: d["walls"][0]["layout"].update(revision=4),
            "#/document/walls/0/layout/revision",
            "does_not_exist",
        ),
        (lambda d: d["readings"][0].update(value=None), "#/document/readings/0", "other_kind"),
    ],
)
def test_what_is_wrong_is_named_and_nothing_is_written(
    office: ApiTester,
    built: Job,
    target: Branch,
    target_office: ApiTester,
    change: Callable[[dict[str, Any]], Any],
    pointer: str,
    code: str,
) -> None:
    document = export(office, built.pk)
    change(document)
    before = counts()
    answer = assert_problem(send(target_office, target, document), 400, "invalid_input")
    found = {entry["pointer"]: entry["code"] for entry in answer["errors"]}
    assert found.get(pointer) == code
    assert counts() == before


def test_a_fault_far_down_leaves_nothing_of_the_rest(
    office: ApiTester, built: Job, target: Branch, target_office: ApiTester
) -> None:
    document = export(office, built.pk)
    document["readings"][-1]["value"] = {"value": 900, "unit": "in"}
    before = counts()
    assert_problem(send(target_office, target, document), 400, "invalid_value")
    assert counts() == before


def test_a_status_without_its_record_is_refused(
    office: ApiTester, opened: Job, target: Branch, target_office: ApiTester
) -> None:
    document = export(office, opened.pk)
    document["job"]["status"] = "installed"
    assert_problem(send(target_office, target, document), 400, "invalid_value")


def test_without_a_catalogue_it_says_what_is_missing(
    office: ApiTester,
    opened: Job,
    foreign_branch: Branch,
    make_user: Callable[..., User],
    client_for: Callable[..., ApiTester],
) -> None:
    client = client_for(make_user("office", foreign_branch))
    answer = send(client, foreign_branch, export(office, opened.pk))
    assert answer.status_code == 400
    assert answer.json()["errors"][0]["remedy"]
    assert not Job.objects.filter(branch=foreign_branch).exists()


@pytest.mark.parametrize("role", ["crew", "warehouse", "read_only"])
def test_only_the_office_may(
    role: str, clients: dict[str, ApiTester], office: ApiTester, built: Job, branch: Branch
) -> None:
    document = export(office, built.pk)
    refused = clients[role].get(f"/api/v1/jobs/{built.pk}/document")
    assert_problem(refused, 403, "role_missing")
    assert_problem(send(clients[role], branch, document), 403, "role_missing")


def test_a_branch_elsewhere_does_not_exist(
    office: ApiTester, built: Job, target: Branch, target_office: ApiTester
) -> None:
    document = export(office, built.pk)
    answer = assert_problem(send(office, target, document), 400, "invalid_input")
    assert answer["errors"][0]["pointer"] == "#/branch"
    assert_problem(target_office.get(f"/api/v1/jobs/{built.pk}/document"), 404, "not_found")


def test_the_second_job_of_a_house_finds_homeowner_house_and_surveys(
    office: ApiTester, built: Job, target: Branch, target_office: ApiTester
) -> None:
    document = export(office, built.pk)
    send(target_office, target, document)
    document["key"] = "11111111-1111-4111-8111-111111111111"
    told = send(target_office, target, document).json()
    fates = {(step["part"], step["fate"]) for step in told["steps"]}
    assert {("customer", "unchanged"), ("site", "unchanged"), ("survey", "unchanged")} <= fates
    assert ("reading", "unchanged") in fates
    assert Customer.objects.filter(branch=target).count() == 1
    assert Survey.objects.filter(branch=target).count() == 1
    assert Reading.objects.filter(branch=target).count() == 3
