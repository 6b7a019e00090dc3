"""Write and redact the audit trail. ``Versioned`` calls ``record``; services seldom need to."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from contractor.api.actor import current_actor
from contractor.api.models.audit import AuditEntry
from contractor.api.models.base import Versioned
from contractor.api.models.tenants import Branch, Company

HIDDEN = "(hidden)"
REDACTED = "(erased)"


def record(
    row: Versioned,
    what: str,
    before: Mapping[str, Any],
    after: Mapping[str, Any],
    *,
    skipped: Collection[str] = (),
) -> AuditEntry | None:
    """Write the columns that differ; nothing when a change changed nothing."""
    names = sorted(
        name
        for name in {*before, *after} - {*skipped}
        if what != "changed" or before.get(name) != after.get(name)
    )
    if not names:
        return None
    company_id, branch_id = _place(row)
    return AuditEntry.objects.create(
        actor=current_actor(),
        subject=subject_of(row),
        subject_version=row.version,
        company_id=company_id,
        branch_id=branch_id,
        what=what,
        before=_shown(row, before, names),
        after=_shown(row, after, names),
    )


def subject_of(row: Versioned) -> str:
    """Return "<noun>:<pk>", the same name that events use."""
    return f"{row._meta.model_name}:{row.pk}"


def redact(subject: str, fields: Collection[str]) -> int:
    """Replace the values of ``fields`` in all entries of ``subject``; return how many changed."""
    changed = 0
    for entry in AuditEntry.objects.select_for_update().filter(subject=subject):
        touched = False
        for values in (entry.before, entry.after):
            for name in {*fields} & {*values}:
                values[name], touched = REDACTED, True
        if touched:
            entry.save(update_fields=["before", "after"])
            changed += 1
    return changed


def _shown(row: Versioned, values: Mapping[str, Any], names: Collection[str]) -> dict[str, Any]:
    return {
        name: HIDDEN if name in row.audit_hidden else _plain(values[name])
        for name in names
        if name in values
    }


def _plain(value: Any) -> Any:
    """Return what JSON can hold: files by name, other values as they are."""
    return str(value) if hasattr(value, "storage") else value


def _place(row: Versioned) -> tuple[int | None, int | None]:
    """Return (company, branch) keys as far as the row itself names them."""
    if isinstance(row, Company):
        return row.pk, None
    if isinstance(row, Branch):
        return row.company_id, row.pk
    branch_id = getattr(row, "branch_id", None)
    company_id = getattr(row, "company_id", None)
    if company_id is None and branch_id is not None:
        found = Branch.objects.filter(pk=branch_id).values_list("company_id", flat=True)
        company_id = found.first()
    return company_id, branch_id
