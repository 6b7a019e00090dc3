"""Rows for the proof: reminders due within one hour on the two days on which clocks change."""

from __future__ import annotations

import secrets
from datetime import UTC, date, datetime, timedelta
from typing import Any

from contractor.api.models import Branch, Company
from jobs.models import BraceRecord, Consent, Customer, InstallRecord, Job, Reminder, Site

# Second Sunday in March, first Sunday in November: 15 U.S.C. 260a(a).
SWITCHES = (datetime(2026, 3, 8, 12, tzinfo=UTC), datetime(2026, 11, 1, 12, tzinfo=UTC))
# Zone -> states within it; "" is a site whose state nobody entered (federal window).
PLACES: dict[str, tuple[str, ...]] = {
    "America/New_York": ("", "", "OH", "FL", "CT", "RI", "KY"),
    "America/Chicago": ("", "", "IL", "TX", "LA", "MN", "OK"),
    "America/Denver": ("", "", "CO", "UT", "WY", "NM"),
    "America/Los_Angeles": ("", "", "CA", "WA", "NV"),
}
OPTED_OUT_EVERY = 50
OVERDUE_EVERY = 10


def build(count: int) -> dict[str, int]:
    """Make ``count`` homeowners with one due reminder each; return what is to be expected.

    Every 50th more has taken consent back (no message); every 10th has an older reminder that
    nobody sent, which the newer one stands for.
    """
    company = Company.objects.create(name="Plumb Line Basements")
    branch = Branch.objects.create(company=company, name="Bench")
    opted_out = count // OPTED_OUT_EVERY
    total = count + opted_out
    customers = Customer.objects.bulk_create([_customer(branch, n) for n in range(total)])
    sites = Site.objects.bulk_create([_site(branch, c, n) for n, c in enumerate(customers)])
    jobs = Job.objects.bulk_create([_job(branch, site) for site in sites])
    installs = InstallRecord.objects.bulk_create([_install(branch, job) for job in jobs])
    BraceRecord.objects.bulk_create([_brace(install) for install in installs])
    Consent.objects.bulk_create(
        [_consent(customer, n, n < count) for n, customer in enumerate(customers)]
    )
    reminders = [_reminder(branch, job, n) for n, job in enumerate(jobs)]
    older = [_older(branch, job, n) for n, job in enumerate(jobs[:count]) if n % OVERDUE_EVERY == 0]
    Reminder.objects.bulk_create(reminders + older)
    return {"sent": count, "superseded": len(older), "no_channel": opted_out}


def _switch(n: int) -> datetime:
    return SWITCHES[n % 2]


def _customer(branch: Branch, n: int) -> Customer:
    is_text = n % 4 >= 2
    return Customer(
        branch=branch,
        name=f"Owner {n}",
        email="" if is_text else f"owner{n}@example.org",
        phone=f"555-01{n:05d}" if is_text else "",
        language="es" if n % 3 == 0 else "en",
    )


def _site(branch: Branch, customer: Customer, n: int) -> Site:
    zone = sorted(PLACES)[n // 2 % len(PLACES)]
    states = PLACES[zone]
    return Site(
        branch=branch,
        customer=customer,
        label=f"{n} Plumb Street",
        time_zone=zone,
        state=states[n // 8 % len(states)],
    )


def _job(branch: Branch, site: Site) -> Job:
    return Job(
        branch=branch,
        site=site,
        title="Braces",
        status=Job.Status.INSTALLED,
        due=date(2025, 9, 1),
        labour_minutes=300,
        weight_lb=70.0,
        brace_count=1,
    )


def _install(branch: Branch, job: Job) -> InstallRecord:
    return InstallRecord(
        branch=branch,
        job=job,
        status=InstallRecord.Status.CLOSED,
        started_on=date(2025, 9, 1),
        installed_on=date(2025, 9, 1),
    )


def _brace(install: InstallRecord) -> BraceRecord:
    return BraceRecord(
        install=install,
        wall="north wall",
        mark="B1",
        planned_height_ticks=93 * 64,
        torque_limit_lbf_ft=50.0,
        torque_lbf_ft=50.0,
        anchors_wanted=2,
        needs_seal=False,
    )


def _consent(customer: Customer, n: int, is_live: bool) -> Consent:
    given = datetime(2025, 9, 1, 15, tzinfo=UTC)
    return Consent(
        customer=customer,
        channel=Consent.Channel.TEXT if n % 4 >= 2 else Consent.Channel.EMAIL,
        source="paper form",
        granted_at=given,
        revoked_at=None if is_live else given + timedelta(days=30),
    )


def _due_at(n: int) -> datetime:
    return _switch(n) + timedelta(seconds=n * 7919 % 3600)


def _reminder(branch: Branch, job: Job, n: int) -> Reminder:
    at = _due_at(n)
    return Reminder(**_columns(branch, job, at.date(), at))


def _older(branch: Branch, job: Job, n: int) -> Reminder:
    at = _due_at(n)  # moved on, night by night, while nobody could send
    return Reminder(**_columns(branch, job, at.date() - timedelta(days=20), at))


def _columns(branch: Branch, job: Job, due_on: date, at: datetime) -> dict[str, Any]:
    return {
        "branch": branch,
        "job": job,
        "due_on": due_on,
        "not_before": at,
        "reason": "6 months after the install",
        "message_id": secrets.token_hex(16),
    }
