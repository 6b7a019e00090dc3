"""Lists come in as CSV or XLSX: a dry run tells each row's fate, the real run is all or nothing.

Every row goes through the shape, the place check and the service that a single request would.
"""

from __future__ import annotations

from collections.abc import Mapping, Set
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, ClassVar

from django.db import transaction
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.exceptions import APIException
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from contractor.api import idempotency, problems
from contractor.api.access import follow
from contractor.api.bulk import DRY_RUN
from contractor.api.faults import fault
from contractor.api.import_cells import has_unit, key_of, member_of, same_of
from contractor.api.resources import Creates
from contractor.api.serializers import StrictSerializer
from contractor.api.tables import ENCODINGS, Cell, Line, Table, TableError, read_table
from contractor.api.views import is_switched_on
from contractor.engine.errors import InputError
from contractor.errors import DomainError

SHOWN_REFUSALS = 100
FATES = ("created", "changed", "unchanged", "refused")


class ImportRefusedError(DomainError):
    code = "import_refused"
    title = "Rows of the file were refused, so nothing was stored"


@dataclass(frozen=True)
class Lookup:
    """A column that names a neighbour by something that people know, not by its key."""

    member: str
    attribute: str


class ChangeSerializer(serializers.Serializer[Any]):
    before = serializers.JSONField(allow_null=True)
    after = serializers.JSONField(allow_null=True)


class RowFateSerializer(StrictSerializer):
    row = serializers.IntegerField()
    fate = serializers.ChoiceField(choices=FATES)
    id = serializers.IntegerField(allow_null=True)
    changes = serializers.DictField(child=ChangeSerializer())
    problem = serializers.DictField(allow_null=True)


class ImportSerializer(StrictSerializer):
    """``row`` counts as a spreadsheet does; ``changes`` names what a changed row had before."""

    is_stored = serializers.BooleanField()
    created = serializers.IntegerField()
    changed = serializers.IntegerField()
    unchanged = serializers.IntegerField()
    refused = serializers.IntegerField()
    ignored_columns = serializers.ListField(child=serializers.CharField())
    rows = RowFateSerializer(many=True)


FILE_BODY: dict[str, Any] = {
    "type": "object",
    "required": ["file"],
    "additionalProperties": False,
    "properties": {
        "file": {
            "type": "string",
            "format": "binary",
            "description": "CSV (comma, semicolon or tab) or XLSX, at most 2 MB and 1,000 rows; "
            "the first row names the columns as the list's export does.",
        },
        "encoding": {"type": "string", "enum": sorted(ENCODINGS), "default": "utf-8"},
        "place": {
            "type": "integer",
            "description": "Branch (or company) of rows that do not name theirs.",
        },
    },
}


@dataclass
class Fates:
    """What has become of the rows so far."""

    rows: list[dict[str, Any]] = field(default_factory=list)
    seen: dict[int, int] = field(default_factory=dict)

    def count(self, fate: str) -> int:
        return sum(row["fate"] == fate for row in self.rows)


def upload_of(request: Request, known: set[str]) -> tuple[Table, Mapping[str, str]]:
    """Return the table of ``file`` and the other form fields. Raises TableError, faults."""
    data: Any = request.data
    for name in {*data} - known - {"file", "encoding"}:
        raise fault("There is no such member.", code="unknown_member", below=f"/{name}")
    upload = request.FILES.get("file")
    if upload is None:
        raise TableError("There is no file.", remedy="Send multipart/form-data with 'file'.")
    encoding = str(data.get("encoding", "utf-8"))
    if encoding not in ENCODINGS:
        raise fault("No such encoding.", code="invalid_choice", below="/encoding")
    form = {name: str(data[name]) for name in known if name in data}
    return read_table(upload.read(), encoding=encoding), form


class Imports(Creates):
    """Adds ``POST /customers/import``; name "import_rows" in ``access``.

    A row with an ``id`` means that row; else the first of ``import_keys`` whose last column is
    filled finds it; else it is new. A blank cell leaves what is there. Columns that cannot be
    set are ignored and named in the answer; unknown ones are refused.
    """

    import_keys: ClassVar[tuple[tuple[str, ...], ...]] = ()
    import_lookups: ClassVar[Mapping[str, Lookup]] = {}

    @extend_schema(
        request={"multipart/form-data": FILE_BODY},
        responses=ImportSerializer,
        parameters=[DRY_RUN],
    )
    @action(detail=False, methods=["post"], url_path="import", parser_classes=[MultiPartParser])
    def import_rows(self, request: Request) -> Response:
        """Create and change rows from a CSV or XLSX file: all of it, or nothing."""
        is_dry_run = is_switched_on(request, "dry_run")
        table, form = upload_of(request, {"place"})
        ignored = self._check_columns(table)
        fates = Fates()
        for line in table.lines:
            fates.rows.append(self._fate(line, form.get("place"), ignored, fates))
        told: dict[str, Any] = {name: fates.count(name) for name in FATES}
        told |= {"is_stored": not is_dry_run, "ignored_columns": ignored, "rows": fates.rows}
        if is_dry_run:
            raise idempotency.Undone(Response(told))
        refuse_if_any(fates)
        return Response(told)

    def known_parameters(self) -> Set[str]:
        known = super().known_parameters()
        return known | {"dry_run"} if self.action == "import_rows" else known

    @cached_property
    def _reader(self) -> type[Any]:
        return self.create_shape or self.get_serializer_class()

    @cached_property
    def _fields(self) -> Mapping[str, Any]:
        """The members of a new row; made once, for every row asks them."""
        fields: Mapping[str, Any] = self._reader(context=self.get_serializer_context()).fields
        return fields

    @cached_property
    def _fixed(self) -> set[str]:
        """The members that a row which is there already keeps."""
        shape: Any = getattr(self, "change_shape", None) or self.get_serializer_class()
        fields = shape(context=self.get_serializer_context()).fields
        return {name for name, field in fields.items() if field.read_only}

    def _check_columns(self, table: Table) -> list[str]:
        """Return the columns that are there but cannot be set. Raises TableError."""
        fields = self._fields
        units = {f"{name}_unit" for name, one in fields.items() if has_unit(one)}
        known = {"id", *fields, *units, *self.import_lookups}
        if unknown := [name for name in table.columns if name not in known]:
            raise TableError(
                f"There is no column {unknown[0][:60]!r}.",
                remedy="Known: " + ", ".join(sorted(known)) + ".",
                columns=[name[:60] for name in unknown],
            )
        return [name for name in table.columns if name in fields and fields[name].read_only][:100]

    def _fate(
        self, line: Line, place: str | None, ignored: list[str], fates: Fates
    ) -> dict[str, Any]:
        fate: dict[str, Any] = {"row": line.number, "id": None, "changes": {}, "problem": None}
        try:
            with transaction.atomic():
                if line.fault:
                    raise fault(line.fault, code="too_many_cells")
                values = {n: c for n, c in line.cells.items() if n not in ignored or n == "id"}
                found, what, changes = self._store(values, place)
                if found.pk in fates.seen:
                    raise fault(f"It is the same as row {fates.seen[found.pk]}.", code="duplicate")
                fates.seen[found.pk] = line.number
                return {**fate, "fate": what, "id": found.pk, "changes": changes}
        except (DomainError, InputError, APIException) as error:
            document = problems.document_of(error, self.request.path)
            assert document is not None
            return {**fate, "fate": "refused", "problem": document}

    def _store(self, cells: dict[str, Cell], place: str | None) -> tuple[Any, str, dict[str, Any]]:
        data = self._document(cells)
        path = self.branch_path or self.company_path
        if path in ("branch", "company") and path not in data and "id" not in cells:
            data[path] = self._place(place)
        found = self._find(cells.get("id"), data)
        if found is not None:
            return self._change(found, data)
        values = self.read(self._reader, data)
        self.check_place(values)
        return self.create_row(self.prepare_row(values)), "created", {}

    def _place(self, text: str | None) -> int:
        """Return the branch or company that rows belong to when they do not say."""
        if text is not None:
            return key_of(text)
        roles = self.access["import_rows"]
        assert not isinstance(roles, str)
        mine = self.who.branches(roles)
        keys = mine if self.branch_path else sorted({one.pk for one in self.who.companies})
        if len(keys) != 1:
            raise fault("Nobody says where it belongs.", code="required", below="/place")
        return keys[0]

    def _document(self, cells: Mapping[str, Cell]) -> dict[str, Any]:
        """Return the cells as the members of a request."""
        fields, data = self._fields, dict[str, Any]()
        for name, cell in cells.items():
            if lookup := self.import_lookups.get(name):
                data[lookup.member] = self._neighbour(fields[lookup.member], lookup, name, cell)
            elif name in fields and not fields[name].read_only:
                data[name] = member_of(fields[name], cell, cells.get(f"{name}_unit"))
        return data

    def _neighbour(self, wanted: Any, lookup: Lookup, column: str, cell: Cell) -> int:
        rows = wanted.get_queryset().filter(**{lookup.attribute: str(cell)})
        keys = list(rows.values_list("pk", flat=True)[:2])
        if len(keys) == 1:
            return int(keys[0])
        what = "No row" if not keys else "More than one row"
        raise fault(
            f"{what} has {lookup.attribute} {str(cell)[:60]!r}.",
            code="does_not_exist" if not keys else "ambiguous",
            remedy=f"Correct it, or give the key in a column {lookup.member}.",
            below=f"/{column}",
        )

    def _find(self, key: Cell | None, data: dict[str, Any]) -> Any:
        rows = self._where_role_allows(self.get_queryset())
        if key is not None:
            found = rows.filter(pk=key_of(key)).first()
            if found is None:
                raise fault(
                    "There is no such row, or it is not yours to see.",
                    code="does_not_exist",
                    remedy="Leave id empty for a new row.",
                    below="/id",
                )
            return found
        for names in self.import_keys:
            if names[-1] in data and (same := same_of(self._fields, names, data)) is not None:
                return rows.filter(**same).order_by("pk").first()
        return None

    def _change(self, row: Any, data: dict[str, Any]) -> tuple[Any, str, dict[str, Any]]:
        shape: Any = getattr(self, "change_shape", None) or self.get_serializer_class()
        context = self.get_serializer_context()
        for name in self._fixed & set(data):
            if getattr(row, f"{name}_id", getattr(row, name, None)) != data[name]:
                raise fault("It cannot be changed.", code="read_only", below=f"/{name}")
        sent = {name: value for name, value in data.items() if name not in self._fixed}
        filled = shape(row, data=sent, partial=True, context=context)
        filled.is_valid(raise_exception=True)
        values: dict[str, Any] = filled.validated_data
        differing = {n: v for n, v in values.items() if follow(row, n) != v}
        if not differing:
            return row, "unchanged", {}
        names = [name for name, one in filled.fields.items() if one.source in differing]
        before = shape(row, context=context).data
        made = self.import_change(row, differing, values)
        after = shape(made, context=context).data
        return made, "changed", {n: {"before": before[n], "after": after[n]} for n in names}

    def import_change(self, row: Any, differing: dict[str, Any], values: dict[str, Any]) -> Any:
        """Store what differs. Override it where a change is no PATCH."""
        self.check_place(differing)
        change: Any = self.change_row  # type: ignore[attr-defined]
        return change(row, differing, None)


def refuse_if_any(fates: Fates) -> None:
    """Raise ImportRefusedError, which undoes the rows that were fine."""
    refused = [row for row in fates.rows if row["fate"] == "refused"]
    if refused:
        raise ImportRefusedError(
            f"{len(refused)} of {len(fates.rows)} rows were refused.",
            remedy="Correct or leave out what 'rows' lists, and send the file again.",
            refused=len(refused),
            rows=refused[:SHOWN_REFUSALS],
        )
