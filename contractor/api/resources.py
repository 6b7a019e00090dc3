"""Views of rows that belong to a branch (or a company): list, one, create, change, command."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Set
from contextlib import contextmanager
from typing import Any, ClassVar

from django.db import IntegrityError, transaction
from django.db.models import Model, QuerySet
from django.http import HttpResponse, HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.viewsets import GenericViewSet

from contractor.api import conditional
from contractor.api.access import follow, for_user
from contractor.api.commands import Order, Steps
from contractor.api.models import Versioned
from contractor.api.permissions import action_of, role_refusal
from contractor.api.refusals import AlreadyThereError
from contractor.api.shaping import PARAMETERS, shape_context
from contractor.api.transactions import service
from contractor.api.views import ApiView

PAGING = frozenset({"cursor", "limit", "count", "ordering"})


class BranchViewSet(ApiView, GenericViewSet[Any]):
    """List and detail of rows that the caller may see.

    Set ``queryset``, ``serializer_class``, ``branch_path`` ("kit__branch") or ``company_path``,
    ``access``, ``area``; optionally ``filterset_fields``/``filterset_class``,
    ``ordering_fields``, ``default_ordering``.
    """

    branch_path: ClassVar[str] = ""
    company_path: ClassVar[str] = ""
    ordering_fields: ClassVar[tuple[str, ...]] = ()
    default_ordering: ClassVar[str] = "-created_at"
    expandable: ClassVar[Mapping[str, type[Any]]] = {}
    """Foreign keys that ``?expand=`` may replace by the row, with the row's shape. The row must
    belong to the same branch or company, for it is shown without another check."""
    lookup_value_regex = "[0-9]{1,18}"

    def get_queryset(self) -> QuerySet[Any]:
        rows = super().get_queryset()
        if not hasattr(self, "who"):
            return rows.none()  # only the schema generator comes here
        return for_user(
            rows, self.who, branch_path=self.branch_path, company_path=self.company_path
        )

    def get_serializer_context(self) -> dict[str, Any]:
        context = super().get_serializer_context()
        if self.action in ("list", "retrieve"):
            shape: Any = self.get_serializer_class()
            known = shape().fields if "fields" in self.request.query_params else ()
            context.update(shape_context(self.request, known, self.expandable))
        return context

    def filter_queryset(self, queryset: QuerySet[Any]) -> QuerySet[Any]:
        """Filter lists only; an address of one row means that row."""
        if self.action != "list":
            return queryset
        return self._where_role_allows(super().filter_queryset(queryset))

    def _where_role_allows(self, rows: QuerySet[Any]) -> QuerySet[Any]:
        roles = self.access[action_of(self, self.request)]
        if not self.branch_path or isinstance(roles, str):
            return rows
        return rows.filter(**{f"{self.branch_path}__in": self.who.branches(roles)})

    def list(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        context = self.get_serializer_context()
        rows = self.filter_queryset(self.get_queryset())
        if context["expand"]:
            rows = rows.select_related(*context["expand"])
        page = self.paginate_queryset(rows)
        shape = self.get_serializer_class()
        return self.get_paginated_response(shape(page, many=True, context=context).data)

    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> HttpResponseBase:
        row = self.get_object()
        is_plain = "expand" not in request.query_params  # a neighbour has a version of its own
        if is_plain and isinstance(row, Versioned) and conditional.is_unchanged(request, row):
            return HttpResponse(status=304, headers={"ETag": conditional.etag(row)})
        return self.answer(row)

    def answer(self, row: Any, *, status: int = 200, shape: type[Any] | None = None) -> Response:
        """Return the document of ``row`` with its ETag."""
        headers = {"ETag": conditional.etag(row)} if isinstance(row, Versioned) else None
        document = self.write(shape or self.get_serializer_class(), row)
        return Response(document, status=status, headers=headers)

    def expected_version(self, row: Versioned) -> int | None:
        """Return the version that If-Match asks for. Raises 428 and 412 refusals."""
        return conditional.expected_version(self.request, row)

    def known_parameters(self) -> Set[str]:
        known = super().known_parameters()
        if self.action == "list":
            return known | PAGING | PARAMETERS | self._filter_names()
        return known | PARAMETERS if self.action == "retrieve" else known

    def _filter_names(self) -> Set[str]:
        names: set[str] = set()
        for backend in self.filter_backends:
            found = getattr(backend(), "get_filterset_class", lambda *_: None)(
                self, self.get_queryset()
            )
            names |= set(found.base_filters) if found else set()
        return names

    def check_place(self, values: dict[str, Any]) -> None:
        """Refuse (403) a new row at a branch where the caller's role does not allow it."""
        roles = self.access[action_of(self, self.request)]
        path = self.branch_path or self.company_path
        first, _, rest = path.partition("__")
        if isinstance(roles, str) or first not in values:
            return
        place = follow(values[first], rest) if rest else values[first]
        held = (
            self.who.roles_by_branch.get(place.pk, frozenset())
            if self.branch_path
            else self.who.roles_in_company(place.pk)
        )
        if not held & roles:
            raise role_refusal(frozenset(roles))


def _prepare_create(view: Any, request: Request) -> Order:
    values = view.read(view.create_shape or view.get_serializer_class())
    view.check_place(values)
    return Order(None, view.prepare_row(values), None)


def _act_create(view: Any, order: Order) -> Response:
    row = view.create_row(order.values)
    response: Response = view.answer(row, status=201, shape=view.created_shape)
    response["Location"] = f"{view.request.path.rstrip('/')}/{row.pk}"
    return response


class Creates(BranchViewSet):
    """Adds POST on the list; override ``create_row`` to call your service.

    ``create_shape`` reads the body and ``created_shape`` writes the answer where they differ
    from ``serializer_class``.
    """

    create_shape: ClassVar[type[Any] | None] = None
    created_shape: ClassVar[type[Any] | None] = None

    def create(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        return _act_create(self, _prepare_create(self, request))

    create.steps = Steps(_prepare_create, _act_create)  # type: ignore[attr-defined]

    def prepare_row(self, values: dict[str, Any]) -> dict[str, Any]:
        """Complete the validated values before the transaction (solvers, look-ups)."""
        return values

    def create_row(self, values: dict[str, Any]) -> Any:
        """Store the row. Override it with the call of a service."""
        model: Any = self.get_queryset().model
        return _create(model, values)


class Changes(BranchViewSet):
    """Adds PATCH; needs If-Match. Override ``change_row`` to call your service."""

    change_shape: ClassVar[type[Any] | None] = None

    def partial_update(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        row = self.get_object()
        version = self.expected_version(row)
        shape = self.change_shape or self.get_serializer_class()
        filled = shape(row, data=request.data, partial=True, context=self.get_serializer_context())
        filled.is_valid(raise_exception=True)
        self.check_place(filled.validated_data)
        return self.answer(self.change_row(row, filled.validated_data, version))

    def change_row(self, row: Any, values: dict[str, Any], if_match: int | None) -> Any:
        """Store the change. Override it with the call of a service."""
        return _change(type(row), row.pk, values, if_match)


class Deletes(BranchViewSet):
    """Adds DELETE; needs If-Match. Override ``delete_row`` to call your service."""

    def destroy(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        row = self.get_object()
        self.delete_row(row, self.expected_version(row))
        return Response(status=204)

    def delete_row(self, row: Any, if_match: int | None) -> None:
        _delete(type(row), row.pk, if_match)


@service
def _create(model: type[Model], values: dict[str, Any]) -> Model:
    with _once_in_the_table():
        row: Model = model._default_manager.create(**values)
    return row


@service
def _change(
    model: type[Versioned], key: int, values: dict[str, Any], if_match: int | None
) -> Versioned:
    row: Versioned = model._default_manager.select_for_update().get(pk=key)
    row.expect_version(if_match)
    for name, value in values.items():
        setattr(row, name, value)
    with _once_in_the_table():
        row.save()
    return row


@contextmanager
def _once_in_the_table() -> Iterator[None]:
    """Refuse what the table holds already: its constraint decides, also between two requests."""
    try:
        with transaction.atomic():
            yield
    except IntegrityError as error:
        if "unique" not in str(error).lower():
            raise
        raise AlreadyThereError(
            "Another record has this name, number or reference.",
            remedy="Choose another one, or change the record that is there.",
        ) from error


@service
def _delete(model: type[Versioned], key: int, if_match: int | None) -> None:
    row: Versioned = model._default_manager.select_for_update().get(pk=key)
    row.expect_version(if_match)
    row.delete()
