"""Who asks, what they may see. The one place where rows are cut down to a person's branches."""

from __future__ import annotations

from collections.abc import Callable, Collection, Set
from dataclasses import dataclass
from functools import cached_property
from typing import Any, TypeVar, cast

from django.db.models import Model, QuerySet
from rest_framework.request import Request

from contractor.api.models import Company, Membership, Role, Token, User

M = TypeVar("M", bound=Model)

EVERYONE: frozenset[str] = frozenset(Role.values)
OWNERS: frozenset[str] = frozenset({Role.OWNER})
OFFICE: frozenset[str] = frozenset({Role.OWNER, Role.OFFICE, Role.INTEGRATION})
WAREHOUSE: frozenset[str] = OFFICE | {Role.WAREHOUSE}
FIELD: frozenset[str] = OFFICE | {Role.CREW}
SHOP: frozenset[str] = WAREHOUSE | {Role.CREW}


@dataclass(frozen=True)
class Who:
    """A signed-in user, or a token of one; ``token`` narrows what the user may do."""

    user: User
    token: Token | None = None

    @property
    def actor(self) -> str:
        """Return the name for events and the audit trail."""
        return f"token:{self.token.pk}" if self.token else f"user:{self.user.pk}"

    @cached_property
    def _memberships(self) -> list[Membership]:
        """Read once for a request, with branches and companies; cut to the token's branch."""
        rows = Membership.objects.filter(user=self.user).select_related("branch__company")
        if self.token and self.token.branch_id is not None:
            rows = rows.filter(branch_id=self.token.branch_id)
        return list(rows)

    @cached_property
    def roles_by_branch(self) -> dict[int, frozenset[str]]:
        """Return branch key -> roles, cut to the token's branch where it has one."""
        return _roles_by(self._memberships, lambda held: held.branch_id)

    @cached_property
    def companies(self) -> list[Company]:
        """Return the companies of the branches, oldest first."""
        found = {held.branch.company_id: held.branch.company for held in self._memberships}
        return [company for _, company in sorted(found.items())]

    @property
    def company(self) -> Company | None:
        return self.companies[0] if self.companies else None

    def branches(self, roles: Set[str] = EVERYONE) -> list[int]:
        """Return keys of the branches where this person holds one of ``roles``."""
        return [branch for branch, held in self.roles_by_branch.items() if held & roles]

    def roles_in_company(self, company_pk: int) -> frozenset[str]:
        """Return every role held at any branch of the company."""
        roles = _roles_by(self._memberships, lambda held: held.branch.company_id)
        return roles.get(company_pk, frozenset())

    def has_any(self, roles: Set[str]) -> bool:
        return bool(self.branches(roles))

    def has_scope(self, scope: str) -> bool:
        """Return whether the token carries "<area>:<verb>"; a session carries every scope."""
        return self.token is None or carries(self.token.scopes, scope)


def _roles_by(
    memberships: list[Membership], place: Callable[[Membership], int]
) -> dict[int, frozenset[str]]:
    found: dict[int, set[str]] = {}
    for held in memberships:
        found.setdefault(place(held), set()).add(held.role)
    return {key: frozenset(roles) for key, roles in sorted(found.items())}


def carries(scopes: Collection[str], wanted: str) -> bool:
    """Return whether ``scopes`` include ``wanted``; "*" is any area, write includes read."""
    area, _, verb = wanted.partition(":")
    verbs = ("write", "read") if verb == "read" else (verb,)
    return any(f"{name}:{v}" in scopes for name in (area, "*") for v in verbs)


def who_is(request: Request) -> Who:
    """Return who sent ``request`` (authenticated), the same object for the whole request."""
    who: Who | None = getattr(request._request, "who", None)
    if who is None or who.user.pk != request.user.pk:
        token = request.auth if isinstance(request.auth, Token) else None
        who = Who(cast(User, request.user), token)
        request._request.who = who  # type: ignore[attr-defined]
    return who


def for_user(
    rows: QuerySet[M], who: Who, *, branch_path: str = "", company_path: str = ""
) -> QuerySet[M]:
    """Return the rows of the branches (or companies) where ``who`` holds any role.

    ``branch_path`` leads from the row to its branch ("kit__branch", or "pk" for branches);
    ``company_path`` does the same for rows that a whole company shares.
    """
    if branch_path:
        wanted: dict[str, Any] = {f"{branch_path}__in": list(who.roles_by_branch)}
    elif company_path:
        wanted = {f"{company_path}__in": [company.pk for company in who.companies]}
    else:
        raise ValueError("Name a branch_path or a company_path: nothing is visible to all.")
    found = rows.filter(**wanted)
    return found.distinct() if _is_to_many(rows.model, branch_path or company_path) else found


def _is_to_many(model: type[Model], path: str) -> bool:
    for name in path.split("__"):
        if name == "pk":
            return False
        field = model._meta.get_field(name)
        if field.one_to_many or field.many_to_many:
            return True
        if field.related_model is None:
            return False
        assert not isinstance(field.related_model, str)
        model = field.related_model
    return False


def follow(row: Any, path: str) -> Any:
    """Return what ``path`` ("kit__branch") leads to from ``row``."""
    for name in path.split("__"):
        row = getattr(row, name)
    return row


def follow_key(row: Any, path: str) -> int:
    """Return the key of what ``path`` ("kit__branch", "pk") leads to, without reading that row."""
    *names, last = path.split("__")
    for name in names:
        row = getattr(row, name)
    field = row._meta.pk if last == "pk" else row._meta.get_field(last)
    key: int = getattr(row, field.attname)
    return key
