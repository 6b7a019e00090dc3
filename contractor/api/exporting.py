"""Lists as CSV or XLSX; a cell that could run as a formula starts with an apostrophe."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Sequence
from typing import Any, ClassVar

from django.http import HttpResponse, HttpResponseBase
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.decorators import action
from rest_framework.request import Request

from contractor.api.refusals import InvalidParameterError
from contractor.api.resources import BranchViewSet
from contractor.api.views import is_switched_on
from contractor.errors import DomainError

MAX_ROWS = 20_000
CSV = "text/csv; charset=utf-8"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
_AS = OpenApiParameter("as", {"type": "string", "enum": ["csv", "xlsx"], "default": "csv"}, "query")
_BOM = OpenApiParameter(
    "bom",
    {"type": "string", "enum": ["true"]},
    "query",
    description="Start the CSV with a byte order mark, for spreadsheets that guess otherwise.",
)
Cell = str | int | float | bool | None


class ExportTooLargeError(DomainError):
    code = "export_too_large"
    title = "The export has too many rows"
    status = 422


class Exports(BranchViewSet):
    """Adds ``GET /parts/export?as=csv`` with the list's filters; name "export" in ``access``."""

    query_parameters: ClassVar[frozenset[str]] = frozenset({"as", "bom"})

    @extend_schema(
        responses={
            (200, "text/csv"): OpenApiTypes.STR,
            (200, XLSX): OpenApiTypes.BINARY,
        },
        parameters=[_AS, _BOM],
        filters=True,
    )
    @action(detail=False, methods=["get"], url_path="export", pagination_class=None)
    def export(self, request: Request) -> HttpResponseBase:
        """Return every row of the list that the caller may see, up to 20,000."""
        kind = request.query_params.get("as", "csv")
        if kind not in ("csv", "xlsx"):
            raise InvalidParameterError(
                "as is neither csv nor xlsx.", remedy="Use ?as=csv.", parameter="as"
            )
        rows = list(self.exported_rows()[: MAX_ROWS + 1])
        if len(rows) > MAX_ROWS:
            raise ExportTooLargeError(
                f"More than {MAX_ROWS} rows match.", remedy="Narrow the filters."
            )
        table = table_of(self.write(self.get_serializer_class(), rows, many=True))
        name = f"{self.get_queryset().model._meta.model_name}.{kind}"
        if kind == "xlsx":
            return _file(xlsx_bytes(table), XLSX, name)
        has_bom = is_switched_on(request, "bom")
        return _file(csv_text(table).encode("utf-8-sig" if has_bom else "utf-8"), CSV, name)

    def exported_rows(self) -> Any:
        """Return the filtered rows, in the order of their keys."""
        rows = self.get_queryset()
        for backend in self.filter_backends:
            rows = backend().filter_queryset(self.request, rows, self)
        return self._where_role_allows(rows).order_by("pk")

    def known_parameters(self) -> frozenset[str]:
        known = frozenset(super().known_parameters())
        return known | frozenset(self._filter_names()) if self.action == "export" else known


def table_of(documents: Sequence[dict[str, Any]]) -> list[list[Cell]]:
    """Return a head row and value rows; a quantity becomes two columns, value and unit."""
    flat = [_flat(document) for document in documents]
    names = list(dict.fromkeys(name for row in flat for name in row))
    return [list(names), *([row.get(name) for name in names] for row in flat)]


def _flat(document: dict[str, Any]) -> dict[str, Cell]:
    row: dict[str, Cell] = {}
    for name, value in document.items():
        if isinstance(value, dict) and {"value", "unit"} <= set(value):
            row[name], row[f"{name}_unit"] = value["value"], value["unit"]
        elif isinstance(value, dict | list):
            row[name] = json.dumps(value, ensure_ascii=False)
        else:
            row[name] = value
    return row


def harmless(value: Cell) -> Cell:
    """Return ``value``, text with an apostrophe in front where it could be a formula.

    >>> harmless("=1+1"), harmless(-1)
    ("'=1+1", -1)
    """
    if isinstance(value, str) and value.lstrip(" ").startswith(_FORMULA):
        return "'" + value
    return value


def csv_text(table: Iterable[Sequence[Cell]]) -> str:
    """Return RFC 4180 text: CRLF, every text cell in quotes."""
    out = io.StringIO()
    writer = csv.writer(out, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\r\n")
    for row in table:
        writer.writerow(["" if cell is None else harmless(cell) for cell in row])
    return out.getvalue()


def xlsx_bytes(table: Iterable[Sequence[Cell]]) -> bytes:
    """Return a workbook with one sheet; numbers stay numbers."""
    from openpyxl import Workbook
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

    book = Workbook(write_only=True)
    sheet = book.create_sheet("rows")
    for row in table:
        cells = [harmless(cell) for cell in row]
        sheet.append([ILLEGAL_CHARACTERS_RE.sub("", c) if isinstance(c, str) else c for c in cells])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _file(content: bytes, content_type: str, name: str) -> HttpResponse:
    return HttpResponse(
        content,
        content_type=content_type,
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )
