"""Default deny: a view offers only what its ``access`` table declares."""

from __future__ import annotations

from typing import Any

from rest_framework.exceptions import PermissionDenied
from rest_framework.permissions import SAFE_METHODS, BasePermission
from rest_framework.request import Request

from contractor.api.access import Who, follow_key, who_is
from contractor.api.refusals import RoleMissingError, ScopeMissingError

PUBLIC = "public"
"""``access = {"get": PUBLIC}`` opens an action to everybody; the matrix test lists them all."""


def action_of(view: Any, request: Request) -> str:
    """Return the name that the access table uses: a viewset's action, else the method."""
    action = getattr(view, "action", None)
    return str(action or (request.method or "").lower())


class DeclaredAccess(BasePermission):
    """Roles per action from ``view.access``, scopes from ``view.area``."""

    def has_permission(self, request: Request, view: Any) -> bool:
        action = action_of(view, request)
        if request.method == "OPTIONS":
            return bool(request.user)
        if _is_unoffered_method(request, view):
            return True  # the framework answers 405 before any handler runs
        roles = getattr(view, "access", {}).get(action)
        if roles == PUBLIC:
            return True
        if not request.user:
            return False
        if roles is None:
            raise PermissionDenied("Nobody has been given access to this action.")
        who = who_is(request)
        _check_scope(request, view, who)
        if not who.has_any(roles):
            raise role_refusal(roles)
        return True

    def has_object_permission(self, request: Request, view: Any, obj: Any) -> bool:
        """Refuse when the role is missing at the branch of this very row (403, not 404)."""
        roles = getattr(view, "access", {}).get(action_of(view, request))
        if roles == PUBLIC:
            return True
        held = _held(view, who_is(request), obj)
        if held is not None and not held & (roles or frozenset()):
            raise role_refusal(roles or frozenset())
        return True


def role_refusal(roles: frozenset[str]) -> RoleMissingError:
    return RoleMissingError(
        "None of your roles at this branch allows this.",
        remedy="Ask an owner of the branch; roles that may: " + ", ".join(sorted(roles)) + ".",
    )


def _is_unoffered_method(request: Request, view: Any) -> bool:
    method = (request.method or "").lower()
    handler = getattr(view, method, None)
    return handler is None or method not in view.http_method_names


def _check_scope(request: Request, view: Any, who: Who) -> None:
    reads = request.method in SAFE_METHODS or getattr(view, "stores_nothing", False)
    scope = f"{view.area}:{'read' if reads else 'write'}"
    if not who.has_scope(scope):
        raise ScopeMissingError(
            f"The token does not carry {scope}.",
            remedy="Use a token with this scope.",
            scope=scope,
        )


def _held(view: Any, who: Who, obj: Any) -> frozenset[str] | None:
    """Return the roles ``who`` holds where ``obj`` belongs; None when the view scopes itself."""
    if branch_path := getattr(view, "branch_path", ""):
        return who.roles_by_branch.get(follow_key(obj, branch_path), frozenset())
    if company_path := getattr(view, "company_path", ""):
        return who.roles_in_company(follow_key(obj, company_path))
    return None
