"""What lies in the shop on the first day, or came with a delivery note, as CSV or XLSX."""

from __future__ import annotations

from collections.abc import Set
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.exceptions import APIException
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from contractor.api import idempotency, problems
from contractor.api.bulk import DRY_RUN
from contractor.api.faults import fault
from contractor.api.import_cells import has_unit, key_of, member_of
from contractor.api.importing import (
    FATES,
    FILE_BODY,
    Fates,
    ImportSerializer,
    refuse_if_any,
    upload_of,
)
from contractor.api.resources import Creates
from contractor.api.tables import Line, Table, TableError
from contractor.api.views import is_switched_on
from inventory.api.movement_shapes import DeliveryShape, ReceiveShape
from inventory.api.shapes import LINES_MOST
from inventory.models import Part, Receipt

_BODY = {
    **FILE_BODY,
    "required": ["file", "place", "reference"],
    "properties": {
        **FILE_BODY["properties"],
        "reference": {"type": "string", "minLength": 1, "maxLength": 120},
    },
}


class ReceivesFiles(Creates):
    """Adds ``POST /receipts/import``: one receipt, a line per row, once per ``reference``."""

    def known_parameters(self) -> Set[str]:
        known = super().known_parameters()
        return known | {"dry_run"} if self.action == "import_rows" else known

    @extend_schema(
        request={"multipart/form-data": _BODY}, responses=ImportSerializer, parameters=[DRY_RUN]
    )
    @action(detail=False, methods=["post"], url_path="import", parser_classes=[MultiPartParser])
    def import_rows(self, request: Request) -> Response:
        """Book goods in from a file; a reference that is there already is booked in no more.

        Columns: part_code or part, length, quantity or packs, cents, lot_number, expires_on, bin.
        """
        is_dry_run = is_switched_on(request, "dry_run")
        table, form = upload_of(request, {"place", "reference"})
        head = self._head(form)
        known = Receipt.objects.filter(branch=head["branch"], reference=head["reference"]).first()
        self._check_table(table)
        fates = Fates()
        lines: list[dict[str, Any]] = []
        for line in table.lines:
            fates.rows.append(self._fate(line, head["branch"], lines, known))
        if known is None and lines and not fates.count("refused"):
            made = self.create_row({**head, "lines": lines})
            fates.rows = [{**row, "id": None if is_dry_run else made.pk} for row in fates.rows]
        told: dict[str, Any] = {name: fates.count(name) for name in FATES}
        told |= {"is_stored": not is_dry_run, "ignored_columns": [], "rows": fates.rows}
        if is_dry_run:
            raise idempotency.Undone(Response(told))
        refuse_if_any(fates)
        return Response(told)

    def _head(self, form: Any) -> dict[str, Any]:
        reference = form.get("reference", "").strip()
        if not reference:
            raise fault("Name the delivery note or the count.", code="required", below="/reference")
        body = {"branch": key_of(form.get("place", "")), "reference": reference}
        fields = ReceiveShape(context=self.get_serializer_context()).fields
        head = {name: fields[name].run_validation(value) for name, value in body.items()}
        self.check_place(head)
        return head

    def _check_table(self, table: Table) -> None:
        fields = DeliveryShape().fields
        units = {f"{name}_unit" for name, one in fields.items() if has_unit(one)}
        known = {"part_code", *fields, *units}
        for name in table.columns:
            if name not in known:
                raise TableError(
                    f"There is no column {name[:60]!r}.",
                    remedy="Known: " + ", ".join(sorted(known)) + ".",
                )
        if len(table.lines) > LINES_MOST:
            raise TableError(f"There are more than {LINES_MOST} rows.", remedy="Split the file.")

    def _fate(
        self, line: Line, branch: Any, lines: list[dict[str, Any]], known: Receipt | None
    ) -> dict[str, Any]:
        fate: dict[str, Any] = {"row": line.number, "id": None, "changes": {}, "problem": None}
        try:
            lines.append(self._delivery(line, branch))
        except APIException as error:
            document = problems.document_of(error, self.request.path)
            return {**fate, "fate": "refused", "problem": document}
        if known is not None:
            return {**fate, "fate": "unchanged", "id": known.pk}
        return {**fate, "fate": "created"}

    def _delivery(self, line: Line, branch: Any) -> dict[str, Any]:
        if line.fault:
            raise fault(line.fault, code="too_many_cells")
        shape = DeliveryShape(context=self.get_serializer_context())
        cells = dict(line.cells)
        data: dict[str, Any] = {}
        if (code := cells.pop("part_code", None)) is not None:
            parts = Part.objects.filter(company=branch.company_id, code=str(code))
            if (part := parts.first()) is None:
                reason = f"There is no part {str(code)[:60]!r}."
                raise fault(reason, code="does_not_exist", below="/part_code")
            data["part"] = part.pk
        for name, cell in cells.items():
            if name in shape.fields:
                data[name] = member_of(shape.fields[name], cell, cells.get(f"{name}_unit"))
        return self.read(DeliveryShape, data)
