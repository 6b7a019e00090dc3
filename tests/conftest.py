"""Shared fixtures: a company with two branches, a second company, a person for every role."""

from __future__ import annotations

import os
import shutil
import uuid
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.conf import settings as django_settings
from django.core.cache import cache
from django.db import connection
from django.utils import timezone
from rest_framework.test import APIClient

from contractor import queue
from contractor.api.models import Branch, Company, Membership, Role, User
from contractor.api.services.tokens import issue_token


class ApiTester(APIClient):
    """A client that sends a token, and a fresh Idempotency-Key with each POST."""

    secret: str | None = None

    def generic(  # type: ignore[override]
        self, method: str, path: str, *args: Any, **extra: Any
    ) -> Any:
        if self.secret and "HTTP_AUTHORIZATION" not in extra:
            extra["HTTP_AUTHORIZATION"] = f"Bearer {self.secret}"
        if method == "POST" and "HTTP_IDEMPOTENCY_KEY" not in extra:
            extra["HTTP_IDEMPOTENCY_KEY"] = f'"{uuid.uuid4()}"'
        return super().generic(method, path, *args, **extra)

    def act(self, path: str, etag: str, data: Any = None, **extra: Any) -> Any:
        """POST a command with If-Match."""
        return self.post(path, data or {}, HTTP_IF_MATCH=etag, **extra)

    def change(self, path: str, etag: str, data: Any, **extra: Any) -> Any:
        """PATCH with If-Match."""
        return self.patch(path, data, HTTP_IF_MATCH=etag, **extra)


@pytest.fixture(autouse=True)
def _manual_queue(settings: Any) -> None:
    """Due work runs when a test says so: ``contractor.queue.drain()``."""
    settings.QUEUE_MODE = "manual"
    queue._pending.clear()  # what the test before asked for went with its rows
    cache.clear()  # rate limits count by key, and keys start again with every test
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.services)])
def vendor(request: pytest.FixtureRequest, db: None) -> str:
    """Have a test run on both: each run of the suite leaves out what is not its database."""
    if connection.vendor != request.param:
        pytest.skip(f"this run is on {connection.vendor}")
    return str(request.param)


@pytest.fixture
def company(db: None) -> Company:
    return Company.objects.create(name="Plumb Line Basements")


@pytest.fixture
def branch(company: Company) -> Branch:
    return Branch.objects.create(company=company, name="North", time_zone="America/New_York")


@pytest.fixture
def other_branch(company: Company) -> Branch:
    """A second branch of the same company; nobody in ``users`` works there."""
    return Branch.objects.create(company=company, name="South", time_zone="America/Chicago")


@pytest.fixture
def foreign_branch(db: None) -> Branch:
    """A branch of another company."""
    return Branch.objects.create(
        company=Company.objects.create(name="Footing and Sons"), name="East"
    )


@pytest.fixture
def make_user(db: None) -> Callable[..., User]:
    """Return a function: ``make_user("office", branch)``."""

    def make(role: str, at: Branch, name: str = "") -> User:
        user = User.objects.create_user(username=name or f"{role}-{at.pk}-{uuid.uuid4().hex[:6]}")
        Membership.objects.create(user=user, branch=at, role=role)
        return user

    return make


@pytest.fixture
def users(make_user: Callable[..., User], branch: Branch) -> dict[str, User]:
    """One person per role, all at ``branch``."""
    return {role: make_user(role, branch) for role in Role.values}


@pytest.fixture
def client_for(db: None) -> Callable[..., ApiTester]:
    """Return a function: ``client_for(user, scopes=["jobs:read"])``."""

    def make(user: User, scopes: list[str] | None = None, **token: Any) -> ApiTester:
        _, secret = issue_token(
            user,
            name="test",
            scopes=scopes or ["*:read", "*:write"],
            expires_at=timezone.now() + timedelta(hours=1),
            **token,
        )
        client = ApiTester(raise_request_exception=False)
        client.secret = secret
        return client

    return make


@pytest.fixture
def clients(users: dict[str, User], client_for: Callable[..., ApiTester]) -> dict[str, ApiTester]:
    """One client per role, all at ``branch``."""
    return {role: client_for(user) for role, user in users.items()}


@pytest.fixture
def owner(clients: dict[str, ApiTester]) -> ApiTester:
    return clients["owner"]


@pytest.fixture
def office(clients: dict[str, ApiTester]) -> ApiTester:
    return clients["office"]


@pytest.fixture
def warehouse(clients: dict[str, ApiTester]) -> ApiTester:
    return clients["warehouse"]


@pytest.fixture
def anonymous(db: None) -> ApiTester:
    return ApiTester(raise_request_exception=False)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Leave out what the machine lacks; with CI=true nothing is left out, so it fails instead."""
    if os.environ.get("CI", "").lower() == "true":
        return
    lacking = {}
    if not django_settings.DATABASES["default"]["ENGINE"].endswith("postgresql"):
        lacking["services"] = "needs PostgreSQL and Redis: python3 manage.py test starts them"
    if shutil.which("chromium") is None:
        lacking["browser"] = "needs Chromium"
    for item in items:
        for name, reason in lacking.items():
            if item.get_closest_marker(name):
                item.add_marker(pytest.mark.skip(reason=reason))
