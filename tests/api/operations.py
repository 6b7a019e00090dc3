"""Every operation of the URL table under /api/v1/."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.urls import get_resolver
from django.urls.resolvers import URLPattern, URLResolver
from rest_framework.parsers import MultiPartParser

_KEY = re.compile(r"\(\?P<(?:pk|position)>[^)]*\)")
_METHODS = ("get", "post", "put", "patch", "delete")


@dataclass(frozen=True)
class Operation:
    """``path`` has "{pk}" where the key of the row goes."""

    method: str
    path: str
    action: str
    view: Any

    def __str__(self) -> str:
        return f"{self.method.upper()} {self.path}"

    @property
    def is_detail(self) -> bool:
        return "{pk}" in self.path

    @property
    def roles(self) -> Any:
        return self.view.access.get(self.action)

    @property
    def is_self_scoped(self) -> bool:
        paths = (getattr(self.view, "branch_path", ""), getattr(self.view, "company_path", ""))
        return not any(paths)

    @property
    def has_shared_rows(self) -> bool:
        return bool(getattr(self.view, "company_path", ""))

    @property
    def reads_files(self) -> bool:
        options = getattr(getattr(self.view, self.action, None), "kwargs", {})
        return MultiPartParser in options.get("parser_classes", ())

    def fresh_view(self) -> Any:
        made = self.view()
        made.action, made.request, made.kwargs = self.action, None, {}
        return made

    def at(self, key: object) -> str:
        return self.path.replace("{pk}", str(key))


def operations() -> list[Operation]:
    """Return the operations of all views that declare access, in the order of the table."""
    return [found for path, callback in _routes() for found in _operations(path, callback)]


def undeclared_routes() -> set[str]:
    """Return the paths under /api/v1/ whose view is none of ours."""
    return {
        path
        for path, callback in _routes()
        if not hasattr(getattr(callback, "cls", None), "access")
    }


def _routes() -> Iterator[tuple[str, Any]]:
    for path, callback in _walk(get_resolver().url_patterns, "/"):
        if path.startswith("/api/v1/"):
            yield path, callback


def _walk(patterns: Any, prefix: str) -> Iterator[tuple[str, Any]]:
    for pattern in patterns:
        text = _KEY.sub("{pk}", str(pattern.pattern)).replace("<str:code>", "not_found")
        path = prefix + text.strip("^$").replace("\\", "")
        if isinstance(pattern, URLResolver):
            yield from _walk(pattern.url_patterns, path)
        elif isinstance(pattern, URLPattern):
            yield path.replace("^", ""), pattern.callback


def _operations(path: str, callback: Any) -> Iterator[Operation]:
    view = getattr(callback, "cls", None)
    if not hasattr(view, "access"):
        return
    assert not re.search(r"[<(]", path), f"teach the matrix what to put into {path}"
    actions = getattr(callback, "actions", None) or {
        method: method for method in _METHODS if hasattr(view, method)
    }
    for method, action in actions.items():
        yield Operation(method, path, action, view)
