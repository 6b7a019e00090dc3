"""Lists as CSV or XLSX; a cell that could run as a formula starts with an apostrophe."""

from __future__ import annotations

import csv
import io
import json
import tempfile
from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from typing import IO, Any

from django.http import FileResponse, HttpResponseBase, StreamingHttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.decorators import action
from rest_framework.request import Request

from contractor.api.import_cells import has_unit
from contractor.api.refusals import InvalidParameterError
from contractor.api.resources import BranchViewSet
from contractor.api.views import is_switched_on
from contractor.errors import DomainError

MAX_ROWS = {"csv": 200_000, "xlsx": 20_000}
ROWS_AT_ONCE = 500
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
    """Adds ``GET /parts/export?as=csv`` with the list's filters; name "export" in ``access``.

    Rows are read and sent some hundred at a time, in the order of their keys.
    """

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
        """Return every row of the list that the caller may see: up to 200,000, 20,000 as XLSX."""
        kind = request.query_params.get("as", "csv")
        if kind not in MAX_ROWS:
            raise InvalidParameterError(
                "as is neither csv nor xlsx.", remedy="Use ?as=csv.", parameter="as"
            )
        mark = "\ufeff" if is_switched_on(request, "bom") else ""
        rows = self._exported_rows(MAX_ROWS[kind])
        name = f"{rows.model._meta.model_name}.{kind}"
        table = self._table(rows)
        if kind == "xlsx":
            return FileResponse(
                xlsx_file(table), as_attachment=True, filename=name, content_type=XLSX
            )
        return StreamingHttpResponse(
            csv_chunks(table, mark),
            content_type=CSV,
            headers={"Content-Disposition": f'attachment; filename="{name}"'},
        )

    def _exported_rows(self, most: int) -> Any:
        """Return the filtered rows, in the order of their keys. Raises ExportTooLargeError."""
        rows = self.get_queryset()
        for backend in self.filter_backends:
            rows = backend().filter_queryset(self.request, rows, self)
        rows = self._where_role_allows(rows).order_by("pk")
        if rows[: most + 1].count() > most:
            raise ExportTooLargeError(f"More than {most} rows match.", remedy="Narrow the filters.")
        return rows

    def _table(self, rows: Any) -> Iterator[list[Cell]]:
        shape: Any = self.get_serializer_class()
        columns = columns_of(shape(context=self.get_serializer_context()).fields)
        yield list(columns)
        last = 0
        while page := list(rows.filter(pk__gt=last)[:ROWS_AT_ONCE]):
            for document in self.write(shape, page, many=True):
                yield row_of(document, columns)
            last = page[-1].pk

    def known_parameters(self) -> Set[str]:
        known = super().known_parameters()
        return known | self._filter_names() | {"as", "bom"} if self.action == "export" else known


def columns_of(fields: Mapping[str, Any]) -> tuple[str, ...]:
    """Return the head row; a quantity becomes two columns, value and unit."""
    names: list[str] = []
    for name, field in fields.items():
        if not field.write_only:
            names += [name, f"{name}_unit"] if has_unit(field) else [name]
    return tuple(names)


def row_of(document: Mapping[str, Any], columns: Sequence[str]) -> list[Cell]:
    """Return the cells of one row; what is nested is JSON text."""
    row: dict[str, Cell] = {}
    for name, value in document.items():
        if isinstance(value, dict) and f"{name}_unit" in columns:
            row[name], row[f"{name}_unit"] = value["value"], value["unit"]
        elif isinstance(value, dict | list):
            row[name] = json.dumps(value, ensure_ascii=False)
        else:
            row[name] = value
    return [row.get(name) for name in columns]


def harmless(value: Cell) -> Cell:
    """Return ``value``, text with an apostrophe in front where it could be a formula.

    >>> harmless("=1+1"), harmless(-1)
    ("'=1+1", -1)
    """
    if isinstance(value, str) and value.lstrip(" ").startswith(_FORMULA):
        return "'" + value
    return value


def csv_chunks(table: Iterable[Sequence[Cell]], mark: str = "") -> Iterator[bytes]:
    """Return RFC 4180 text in pieces: CRLF, every text cell in quotes; ``mark`` goes first."""
    out = io.StringIO()
    out.write(mark)
    writer = csv.writer(out, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\r\n")
    for number, row in enumerate(table, start=1):
        writer.writerow(["" if cell is None else harmless(cell) for cell in row])
        if number % ROWS_AT_ONCE == 0:
            yield out.getvalue().encode()
            out.seek(0)
            out.truncate()
    yield out.getvalue().encode()


def xlsx_file(table: Iterable[Sequence[Cell]]) -> IO[bytes]:
    """Return a workbook with one sheet, as a file on disk; numbers stay numbers."""
    from openpyxl import Workbook
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

    book = Workbook(write_only=True)
    sheet = book.create_sheet("rows")
    for row in table:
        cells = [harmless(cell) for cell in row]
        sheet.append([ILLEGAL_CHARACTERS_RE.sub("", c) if isinstance(c, str) else c for c in cells])
    out = tempfile.TemporaryFile()  # noqa: SIM115 - the response closes it
    book.save(out)
    out.seek(0)
    return out
