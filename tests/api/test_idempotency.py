"""draft-ietf-httpapi-idempotency-key-header-07, section 2: replay, 400, 409, 422."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import OperationalError, transaction
from django.utils import timezone

from contractor.api import idempotency, sealed
from contractor.api.models import Branch, RememberedAnswer, Token
from contractor.api.transactions import joined_transaction, service
from tests.api.test_problems import assert_problem
from tests.conftest import ApiTester

URL = "/api/v1/branches"


@pytest.fixture
def body(branch: Branch) -> dict[str, Any]:
    return {"company": branch.company_id, "name": "West"}


def test_same_key_and_body_gets_the_same_answer_once(
    owner: ApiTester, body: dict[str, Any]
) -> None:
    first = owner.post(URL, body, HTTP_IDEMPOTENCY_KEY='"k1"')
    second = owner.post(URL, body, HTTP_IDEMPOTENCY_KEY="k1")  # unquoted is accepted too
    assert first.status_code == second.status_code == 201
    assert first.content == second.content
    assert first["ETag"] == second["ETag"]
    assert first["Location"] == second["Location"]
    assert Branch.objects.filter(name="West").count() == 1


def test_missing_key_is_400(owner: ApiTester, body: dict[str, Any]) -> None:
    response = owner.post(URL, body, HTTP_IDEMPOTENCY_KEY="")
    assert_problem(response, 400, "idempotency_key_missing")
    assert not Branch.objects.filter(name="West").exists()


@pytest.mark.parametrize("key", ['"' + "x" * 201 + '"', '"', "a b", "ключ", '""'])
def test_unusable_key_is_400(owner: ApiTester, body: dict[str, Any], key: str) -> None:
    response = owner.post(URL, body, HTTP_IDEMPOTENCY_KEY=key)
    assert_problem(response, 400, "idempotency_key_invalid")


def test_other_body_under_the_same_key_is_422(owner: ApiTester, body: dict[str, Any]) -> None:
    owner.post(URL, body, HTTP_IDEMPOTENCY_KEY="k1")
    response = owner.post(URL, {**body, "name": "Far West"}, HTTP_IDEMPOTENCY_KEY="k1")
    assert_problem(response, 422, "idempotency_key_reused")
    assert not Branch.objects.filter(name="Far West").exists()


def test_a_refusal_does_not_burn_the_key(owner: ApiTester, body: dict[str, Any]) -> None:
    wrong = owner.post(URL, {**body, "name": ""}, HTTP_IDEMPOTENCY_KEY="k1")
    assert wrong.status_code == 400
    assert RememberedAnswer.objects.count() == 0
    assert owner.post(URL, body, HTTP_IDEMPOTENCY_KEY="k1").status_code == 201


def test_a_domain_refusal_is_rolled_back_and_not_remembered(
    owner: ApiTester, body: dict[str, Any]
) -> None:
    person = {"username": "pat", "branch": Branch.objects.get().pk, "role": "crew"}
    assert owner.post("/api/v1/users", person).status_code == 201
    RememberedAnswer.objects.all().delete()
    taken = owner.post("/api/v1/users", {**person, "role": "office"}, HTTP_IDEMPOTENCY_KEY="k1")
    assert_problem(taken, 409, "name_taken")
    assert RememberedAnswer.objects.count() == 0


def test_keys_of_two_people_do_not_meet(
    owner: ApiTester, body: dict[str, Any], make_user: Any, client_for: Any, branch: Branch
) -> None:
    second_owner = client_for(make_user("owner", branch))
    owner.post(URL, body, HTTP_IDEMPOTENCY_KEY="k1")
    response = second_owner.post(URL, {**body, "name": "Other"}, HTTP_IDEMPOTENCY_KEY="k1")
    assert response.status_code == 201


def test_while_the_first_runs_the_second_is_told_to_wait(
    owner: ApiTester, body: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[Any] = []
    create_row = "contractor.api.endpoints.company.BranchesViewSet.create_row"

    def meanwhile(_: Any, values: dict[str, Any]) -> Branch:
        seen.append(owner.post(URL, body, HTTP_IDEMPOTENCY_KEY="k1"))
        return Branch.objects.create(**values)

    monkeypatch.setattr(create_row, meanwhile)
    assert owner.post(URL, body, HTTP_IDEMPOTENCY_KEY="k1").status_code == 201
    assert_problem(seen[0], 409, "still_running")
    assert seen[0]["Retry-After"] == "2"
    assert Branch.objects.filter(name="West").count() == 1


def test_a_failure_is_never_pinned(
    owner: ApiTester, body: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patched:

        def fail(*_: Any) -> None:
            raise OperationalError("database is locked")

        patched.setattr("contractor.api.idempotency._find", fail)
        response = owner.post(URL, body, HTTP_IDEMPOTENCY_KEY="k1")
        assert_problem(response, 503, "busy")
        assert response["Retry-After"] == "2"
    assert owner.post(URL, body, HTTP_IDEMPOTENCY_KEY="k1").status_code == 201


def test_effect_and_answer_are_stored_together_or_not_at_all(
    owner: ApiTester, body: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    def crash(*_: Any, **__: Any) -> None:
        raise RuntimeError("power cut between effect and answer")

    monkeypatch.setattr("contractor.api.idempotency._replay", crash)
    assert owner.post(URL, body, HTTP_IDEMPOTENCY_KEY="k1").status_code == 500
    assert not Branch.objects.filter(name="West").exists()
    assert RememberedAnswer.objects.count() == 0


def test_an_answer_is_forgotten_after_24_hours(owner: ApiTester, body: dict[str, Any]) -> None:
    owner.post(URL, body, HTTP_IDEMPOTENCY_KEY="k1")
    RememberedAnswer.objects.update(created_at=timezone.now() - timedelta(hours=24, seconds=1))
    response = owner.post(URL, {**body, "name": "Far West"}, HTTP_IDEMPOTENCY_KEY="k1")
    assert response.status_code == 201
    assert idempotency.forget_old(now=timezone.now()) == 0
    assert idempotency.forget_old(now=timezone.now() + timedelta(hours=25)) == 1


def test_remembered_secrets_are_sealed(owner: ApiTester) -> None:
    body = {"name": "till", "scopes": ["jobs:read"]}
    first = owner.post("/api/v1/tokens", body, HTTP_IDEMPOTENCY_KEY="k1")
    secret = first.json()["secret"]
    kept = RememberedAnswer.objects.get()
    assert secret not in kept.body
    assert secret in sealed.unseal(kept.body)
    assert owner.post("/api/v1/tokens", body, HTTP_IDEMPOTENCY_KEY="k1").content == first.content
    assert Token.objects.filter(name="till").count() == 1


def test_a_changed_seal_does_not_open() -> None:
    text = sealed.seal("whsec_x")
    with pytest.raises(sealed.BrokenSealError):
        sealed.unseal(text[:-4] + ("AAAA" if text[-4:] != "AAAA" else "BBBB"))


def test_an_older_key_still_opens(settings: Any) -> None:
    text = sealed.seal("whsec_x")
    settings.SECRET_KEY_FALLBACKS = [settings.SECRET_KEY]
    settings.SECRET_KEY = "another"
    assert sealed.unseal(text) == "whsec_x"


@service
def add_branch(company: int, name: str) -> Branch:
    return Branch.objects.create(company_id=company, name=name)


@pytest.mark.django_db(transaction=True)
def test_a_service_is_durable_outside_and_joins_inside() -> None:
    from contractor.api.models import Company

    company = Company.objects.create(name="A")
    with transaction.atomic(), pytest.raises(RuntimeError, match="durable"):
        add_branch(company.pk, "hidden in another's transaction")
    with pytest.raises(KeyError), joined_transaction():
        add_branch(company.pk, "undone with the whole")
        raise KeyError
    with joined_transaction():
        add_branch(company.pk, "kept")
    assert list(Branch.objects.values_list("name", flat=True)) == ["kept"]


@pytest.mark.django_db
def test_a_service_does_not_call_a_service() -> None:
    @service
    def outer() -> None:
        add_branch(1, "inner")

    with pytest.raises(RuntimeError, match="inside service"):
        outer()
