"""Of an imported job: the homeowner, the house and what was measured there."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any, Protocol

from contractor.api.models import Branch
from jobs.models import Consent, Customer, Site, Survey

Document = Mapping[str, Any]


class Log(Protocol):
    def add(self, part: str, fate: str, count: int = 1, detail: str = "") -> None: ...


def customer_of(
    branch: Branch, document: Document, report: Log, keep_consent: bool, at: datetime
) -> Customer:
    """Return the homeowner: the one of the same reference, or of the same name and addresses."""
    told = {name: value for name, value in document["customer"].items() if name != "consents"}
    known = Customer.objects.filter(branch=branch)
    same = {name: told[name] for name in ("name", "email", "phone")}
    found = (
        known.filter(reference=told["reference"]).first()
        if told["reference"]
        else known.filter(**same).order_by("pk").first()
    )
    if found is not None:
        report.add("customer", "unchanged", detail="Found; what is written here stays.")
        return found
    customer = Customer.objects.create(branch=branch, **told)
    report.add("customer", "created")
    _keep_consents(customer, document["customer"]["consents"], report, keep_consent, at)
    return customer


def _keep_consents(
    customer: Customer, rows: list[dict[str, Any]], report: Log, keep: bool, at: datetime
) -> None:
    for row in rows:
        values = dict(row)
        if values["revoked_at"] is None and not keep:
            values |= {"revoked_at": at, "revoked_by": "import"}
        Consent.objects.create(customer=customer, **values)
    live = sum(row["revoked_at"] is None for row in rows)
    report.add("consent", "created", live if keep else 0)
    report.add(
        "consent",
        "changed",
        0 if keep else live,
        "Kept as taken back: ask the homeowner again, or import with keep_consent.",
    )


def site_of(customer: Customer, document: Document, report: Log) -> Site:
    """Return the house: the one of the same reference, or of the same label and address."""
    told = document["site"]
    known = Site.objects.filter(branch=customer.branch)
    same = {"customer": customer, "label": told["label"], "address": told["address"]}
    found = (
        known.filter(reference=told["reference"]).first()
        if told["reference"]
        else known.filter(**same).order_by("pk").first()
    )
    if found is not None:
        report.add("site", "unchanged", detail="Found; what is written here stays.")
        return found
    report.add("site", "created")
    return Site.objects.create(branch=customer.branch, customer=customer, **told)


def surveys_of(site: Site, wall: Mapping[str, Any], report: Log) -> dict[int, Survey]:
    """Return the document's revision -> survey here; one that is here already is not doubled."""
    found: dict[int, Survey] = {}
    here = list(site.surveys.filter(wall=wall["wall"]).order_by("revision"))
    created = 0
    for row in wall["surveys"]:
        same = (row["measured_on"], row["document"])
        twin = next((one for one in here if (one.measured_on, one.document) == same), None)
        if twin is None:
            revision = here[-1].revision + 1 if here else 1
            values = {**row, "revision": revision}
            twin = Survey.objects.create(branch=site.branch, site=site, wall=wall["wall"], **values)
            here.append(twin)
            created += 1
        found[row["revision"]] = twin
    report.add("survey", "created", created, wall["wall"])
    report.add("survey", "unchanged", len(found) - created, wall["wall"])
    return found
