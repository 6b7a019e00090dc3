"""Write and redact the audit trail. ``Audited`` calls ``record``; services seldom need to."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from contractor.api.actor import current_actor
from contractor.api.models.audit import AuditEntry
from contractor.api.models.tenants import Branch, Company, Membership, User

HIDDEN = "(hidden)"
REDACTED = "(erased)"


def record(
    row: Any,
    what: str,
    before: Mapping[str, Any],
    after: Mapping[str, Any],
    *,
    skipped: Collection[str] = (),
) -> AuditEntry | None:
    """Write the columns that differ; nothing when a change changed nothing.

    Rows that are ``Audited`` call it themselves; services call it for what they change in place.
    """
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
        subject_version=getattr(row, "version", 1),
        company_id=company_id,
        branch_id=branch_id,
        what=what,
        before=_shown(row, before, names),
        after=_shown(row, after, names),
    )


def subject_of(row: Any) -> str:
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


def _shown(row: Any, values: Mapping[str, Any], names: Collection[str]) -> dict[str, Any]:
    return {
        name: HIDDEN if name in getattr(row, "audit_hidden", ()) else _plain(values[name])
        for name in names
        if name in values
    }


def _plain(value: Any) -> Any:
    """Return what JSON can hold: files by name, other values as they are."""
    return str(value) if hasattr(value, "storage") else value


def _place(row: Any) -> tuple[int | None, int | None]:
    """Return (company, branch) keys as far as the row or its parent names them."""
    while parent := getattr(row, "audit_parent", ""):
        row = getattr(row, parent)
        if row is None:
            return None, None
    if isinstance(row, Company):
        return row.pk, None
    if isinstance(row, Branch):
        return row.company_id, row.pk
    branch: Branch | None = getattr(row, "branch", None)
    branch_id = branch.pk if branch else None
    company_id = getattr(row, "company_id", None) or (branch.company_id if branch else None)
    if company_id is None and isinstance(row, User):
        company_id = _company_of(row)
    return company_id, branch_id


def _company_of(user: User) -> int | None:
    """Return the company whose owners see what happens to an account.

    An account that is being made has no role yet; ``hired_at`` is where it gets one.
    """
    if user.hired_at is not None:
        return user.hired_at.company_id
    held = Membership.objects.filter(user=user).order_by("pk")
    return held.values_list("branch__company_id", flat=True).first()
