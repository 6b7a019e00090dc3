"""OpenAPI 3.1: headers, problem answers and quantities that every operation shares."""

from __future__ import annotations

from typing import Any, Final

from drf_spectacular.extensions import (
    OpenApiAuthenticationExtension,
    OpenApiSerializerFieldExtension,
)
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.plumbing import ResolvedComponent
from drf_spectacular.utils import OpenApiExample, OpenApiParameter
from rest_framework import serializers
from rest_framework.exceptions import ValidationError

from contractor.api.examples import example_of
from contractor.api.permissions import PUBLIC, action_of
from contractor.api.problems import CONTENT_TYPE
from contractor.api.serializers import StrictModelSerializer, StrictSerializer
from contractor.engine.data.units import BASE
from contractor.engine.quantity_document import LARGEST_NUMBER

_HEADER: Final = "header"
_QUERY: Final = "query"
_TEXT = {"type": "string"}
_WHOLE = 10**18 - 1  # what filters read
_NO_NUL = r"^[^\u0000]*$"
_NOT_BLANK = r"[^\s\u001c-\u001f\u0085]"  # spaces as Python trims them; \s of ECMA-262 has fewer
UNITS = OpenApiParameter(
    "units",
    {"type": "string", "enum": ["us", "si"]},
    _QUERY,
    description="Unit system of the answer; default is the company's.",
)
KEY = OpenApiParameter(
    "Idempotency-Key",
    {"type": "string", "minLength": 1, "maxLength": 202, "pattern": r'^("[ !#-\[\]-~]+"|[!#-~]+)$'},
    _HEADER,
    required=True,
    description="Names this one intended effect; repeat it when you retry. Kept for 24 hours.",
)
_TAGS = {"type": "string", "pattern": r'^(\*|"[!#-~]*"(, *"[!#-~]*")*)$'}
IF_MATCH = OpenApiParameter(
    "If-Match", _TAGS, _HEADER, required=True, description="The ETag of the version you read."
)
IF_NONE_MATCH = OpenApiParameter(
    "If-None-Match", _TEXT, _HEADER, description="The ETag you hold; 304 when it still holds."
)
ETAG = OpenApiParameter(
    "ETag", _TEXT, _HEADER, response=["200", "201"], description="Version of the row."
)
RATE_LIMIT = OpenApiParameter(
    "RateLimit", _TEXT, _HEADER, response=True, description='What is left: "user";r=587;t=23.'
)
LINK = OpenApiParameter(
    "Link", _TEXT, _HEADER, response=["200"], description="Pages before and after (RFC 8288)."
)
_TITLES = {
    "400": "Values or headers that cannot be used",
    "401": "No valid token or session",
    "403": "Role or scope is missing",
    "404": "No such record, or not yours to see",
    "406": "The format asked for is not offered",
    "409": "Refused in the present state, or the first request still runs",
    "412": "The record has changed since it was read",
    "413": "The body is too large",
    "415": "The format of the body is not read here",
    "422": "The Idempotency-Key belongs to another request",
    "428": "If-Match is missing",
    "429": "Too many requests",
    "503": "Busy; try again after Retry-After",
}


def bases_without_words() -> list[type[Any]]:
    """Return the classes whose docstrings speak to us and not to readers of the schema."""
    from drf_spectacular.plumbing import get_lib_doc_excludes

    from contractor.api import bulk, exporting, resources, views

    return [
        *get_lib_doc_excludes(),  # type: ignore[no-untyped-call]
        *(StrictSerializer, StrictModelSerializer, views.ApiView),
        *(resources.BranchViewSet, resources.Creates, resources.Changes, resources.Deletes),
        *(bulk.BulkCreates, exporting.Exports),
    ]


class TautlineSchema(AutoSchema):
    """Adds what the base classes do to every operation."""

    view: Any

    def _action(self) -> str:
        return action_of(self.view, self.view.request)

    def _handler(self) -> Any:
        return getattr(self.view, getattr(self.view, "action", None) or self.method.lower(), None)

    def _command(self) -> Any:
        return getattr(self._handler(), "command", None)

    def _demands_version(self) -> bool:
        command = self._command()
        if command is not None:
            return bool(command[3])
        return self.method in ("PUT", "PATCH", "DELETE") and hasattr(self.view, "expected_version")

    def _stores(self) -> bool:
        return self.method == "POST" and not getattr(self.view, "stores_nothing", False)

    def get_override_parameters(self) -> list[Any]:
        parameters: list[Any] = [UNITS]
        if self.view.throttle_classes:
            parameters.append(RATE_LIMIT)
        if self._stores():
            parameters.append(KEY)
        if self._demands_version():
            parameters.append(IF_MATCH)
        if hasattr(self.view, "expected_version"):
            parameters.append(LINK if self._is_list_view() else ETAG)
            if self.view.action == "retrieve":
                parameters.append(IF_NONE_MATCH)
        return parameters

    def _get_parameters(self) -> list[dict[str, Any]]:
        """An empty query value and a NUL are refused: no text in a query may be or hold one."""
        plain: Any = super()
        found: list[dict[str, Any]] = plain._get_parameters()
        for parameter in found:
            schema = parameter.get("schema", {})
            is_text = schema.get("type") == "string" and "enum" not in schema
            if parameter["in"] == _QUERY and is_text:
                text = {} if {"format", "pattern"} & {*schema} else {"pattern": _NO_NUL}
                parameter["schema"] = {"minLength": 1, **text, **schema}
            if parameter["in"] == _QUERY and schema.get("type") == "integer":
                parameter["schema"] = {"minimum": -_WHOLE, "maximum": _WHOLE, **schema}
        return found

    def _map_serializer_field(
        self, field: Any, direction: str, bypass_extensions: bool = False
    ) -> dict[str, Any]:
        """Answers hold what the column may hold, also where a request may not say so."""
        plain: Any = super()
        schema: dict[str, Any] = plain._map_serializer_field(field, direction, bypass_extensions)
        if direction == "request":
            return _as_read(field, schema)
        column = _column_of(field)
        if column is None:
            return schema
        if column.null and not field.allow_null:
            return {"anyOf": [schema, {"type": "null"}]}
        if column.blank and "" not in schema.get("enum", [""]):
            return {**schema, "enum": [*schema["enum"], ""]}
        return schema

    def _get_serializer_field_meta(self, field: Any, direction: str) -> dict[str, Any]:
        """Leave out a default that a request could not send itself."""
        plain: Any = super()
        meta: dict[str, Any] = plain._get_serializer_field_meta(field, direction)
        if "default" in meta and not _can_be_sent(field, meta["default"]):
            del meta["default"]
        return meta

    def _map_basic_serializer(self, serializer: Any, direction: str) -> dict[str, Any]:
        """An unknown member in a request is refused."""
        plain: Any = super()
        schema: dict[str, Any] = plain._map_basic_serializer(serializer, direction)
        is_strict = isinstance(serializer, StrictSerializer | StrictModelSerializer)
        is_closed = is_strict and direction == "request"
        return {**schema, "additionalProperties": False} if is_closed else schema

    def get_request_serializer(self) -> Any:
        command = self._command()
        if command is not None:
            return command[0]
        if self.method == "POST" and getattr(self.view, "create_shape", None):
            return self.view.create_shape
        if self.method == "PATCH" and getattr(self.view, "change_shape", None):
            return self.view.change_shape
        return super().get_request_serializer()

    def get_examples(self) -> list[Any]:
        """A test sends each of them."""
        found = example_of(self.method, self.path)
        if found is None:
            return []
        return [OpenApiExample("As sent", value=found, request_only=True)]

    def get_response_serializers(self) -> Any:
        command = self._command()
        if command is not None:
            return {command[2]: command[1] or self.view.get_serializer_class()}
        if self.method == "POST" and getattr(self.view, "created_shape", None):
            return self.view.created_shape
        return super().get_response_serializers()

    def _is_list_view(self, serializer: Any = None) -> bool:
        if self._command() is not None:
            return False
        return bool(super()._is_list_view(serializer))

    def _get_response_bodies(self, direction: Any = "response") -> dict[str, Any]:
        bodies: dict[str, Any] = super()._get_response_bodies(direction)
        if direction != "response":
            return bodies
        for status in self._refusals():
            bodies.setdefault(status, self._problem_response(status))
        if getattr(self.view, "action", None) == "retrieve":
            bodies.setdefault("304", {"description": "Unchanged since the ETag you hold"})
        return dict(sorted(bodies.items()))

    def _refusals(self) -> list[str]:
        statuses = ["400", "406", "429", "503"]
        if self.view.access.get(self._action()) != PUBLIC:
            statuses += ["401", "403"]
        if "{" in self.path or self.view.query_parameters & _NAMES_OF_ROWS:
            statuses.append("404")
        if self.method in ("POST", "PUT", "PATCH", "DELETE"):
            statuses += ["409", "413", "415"]
        elif "{" in self.path and self._action() not in ("retrieve", "get"):
            statuses.append("409")  # an answer that the row cannot give in its present state
        if self._stores():
            statuses.append("422")
        if self._demands_version():
            statuses += ["412", "428"]
        return statuses

    def _problem_response(self, status: str) -> dict[str, Any]:
        component = ResolvedComponent(  # type: ignore[no-untyped-call]
            name="Problem", type=ResolvedComponent.SCHEMA, schema=PROBLEM, object="Problem"
        )
        self.registry.register_on_missing(component)
        return {
            "description": _TITLES[status],
            "content": {CONTENT_TYPE: {"schema": component.ref}},
        }


_NAMES_OF_ROWS = frozenset({"branch", "site"})


def _column_of(field: Any) -> Any:
    """Return the model field that a serializer field shows; None where there is no such one."""
    model = getattr(getattr(field.parent, "Meta", None), "model", None)
    if model is None:
        return None
    columns = {column.name: column for column in model._meta.concrete_fields}
    return columns.get(field.source)


def _as_read(field: Any, schema: dict[str, Any]) -> dict[str, Any]:
    """Return ``schema`` with the bounds that the library leaves out of requests."""
    if isinstance(field, serializers.JSONField) and not field.allow_null:
        return {**schema, "type": "object"}
    if _refuses_blanks(field) and not {"format", "pattern", "enum"} & {*schema}:
        return {**schema, "pattern": _NOT_BLANK}
    if not isinstance(field, serializers.ListSerializer | serializers.ListField):
        return schema
    bounds = {} if field.allow_empty else {"minItems": 1}
    if (most := getattr(field, "max_length", None)) is not None:
        bounds["maxItems"] = most
    return {**bounds, **schema}


def _refuses_blanks(field: Any) -> bool:
    is_text = isinstance(field, serializers.CharField)
    return is_text and field.trim_whitespace and not field.allow_blank


def _can_be_sent(field: Any, default: Any) -> bool:
    try:
        field.run_validation(default)
    except ValidationError:
        return False
    return True


PROBLEM: dict[str, Any] = {
    "type": "object",
    "description": "Problem details (RFC 9457); more members carry the facts of the refusal.",
    "required": ["type", "title", "status", "detail", "instance", "code"],
    "properties": {
        "type": {"type": "string", "format": "uri-reference"},
        "title": _TEXT,
        "status": {"type": "integer"},
        "detail": _TEXT,
        "instance": _TEXT,
        "code": {"type": "string", "description": "Stable; /api/v1/problems lists all."},
        "remedy": _TEXT,
        "errors": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["pointer", "detail", "code"],
                "properties": {
                    "pointer": {"type": "string", "examples": ["#/wall/length"]},
                    "detail": _TEXT,
                    "code": _TEXT,
                    "remedy": _TEXT,
                },
            },
        },
    },
}


def quantity_schema(
    registry: Any, direction: str, dimension: str, units: list[str], example: str
) -> dict[str, Any]:
    """Return a reference to the quantity's component; requests may send text instead."""
    name = "".join(word.title() for word in dimension.split("_"))
    is_request = direction == "request"
    bounds = {"minimum": -LARGEST_NUMBER, "maximum": LARGEST_NUMBER} if is_request else {}
    whole: dict[str, Any] = {
        "type": "object",
        "required": ["value", "unit"] if is_request else ["value", "unit", "text"],
        "additionalProperties": False,
        "description": f"A {dimension.replace('_', ' ')}.",
        "properties": {
            "value": {"type": "number", **bounds},
            "unit": {"type": "string", "enum": units},
            "text": {**_TEXT, "examples": [example]},
        },
    }
    component = ResolvedComponent(  # type: ignore[no-untyped-call]
        name=name + ("Request" if is_request else ""),
        type=ResolvedComponent.SCHEMA,
        schema=whole,
        object=f"{name} {direction}",
    )
    registry.register_on_missing(component)
    reference: dict[str, Any] = component.ref
    if not is_request:
        return reference
    return {"anyOf": [reference, {**_TEXT, "minLength": 1, "examples": [example]}]}


class LengthFieldSchema(OpenApiSerializerFieldExtension):  # type: ignore[no-untyped-call]
    target_class = "contractor.api.fields.LengthField"

    def map_serializer_field(self, auto_schema: Any, direction: str) -> dict[str, Any]:
        units = ["in", "ft", "mm", "cm", "m"]
        return quantity_schema(auto_schema.registry, direction, "length", units, "7'-8 1/2\"")


class QuantityFieldSchema(OpenApiSerializerFieldExtension):  # type: ignore[no-untyped-call]
    target_class = "contractor.api.fields.QuantityField"

    def map_serializer_field(self, auto_schema: Any, direction: str) -> dict[str, Any]:
        unit: str = self.target.unit
        dimension = BASE[unit].dimension
        units = [name for name, entry in BASE.items() if entry.dimension == dimension]
        return quantity_schema(auto_schema.registry, direction, dimension, units, f"12 {unit}")


class TokenScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    target_class = "contractor.api.authentication.TokenAuthentication"
    name = "token"

    def get_security_definition(self, auto_schema: Any) -> dict[str, Any]:
        return {"type": "http", "scheme": "bearer", "description": "A token, tl_..."}


class SessionScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    target_class = "contractor.api.authentication.ScreenSessionAuthentication"
    name = "session"

    def get_security_definition(self, auto_schema: Any) -> dict[str, Any]:
        return {"type": "apiKey", "in": "cookie", "name": "sessionid"}
