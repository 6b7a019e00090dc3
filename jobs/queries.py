"""What an office has to know today: who is overdue, who is silent, which walls move."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Count, DateTimeField, F, OuterRef, Q, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce, Greatest

from jobs.models import (
    CareLog,
    HomeownerLink,
    Job,
    Reading,
    Reminder,
    TextReply,
    VisitRequest,
    WallVerdict,
)

HOLDING_REASONS = ("moving_in", "something_wrong", "over_torque", "crack")
GRACE_DAYS = 14
SILENT_AFTER = 2
MOST_ROWS = 200
NEVER = datetime.fromisoformat("1970-01-01T00:00:00+00:00")
R = Reminder.Status
WENT_OUT = (R.SENT, R.UNKNOWN, R.NO_CHANNEL)


def overdue_retightenings(branches: Collection[int], today: date) -> list[dict[str, Any]]:
    """Return installed jobs whose newest reminder is two weeks past and not logged as done.

    Longest overdue first; at most 200. ``last_outcome`` is what the homeowner said since.
    """
    newest = Reminder.objects.filter(job=OuterRef("pk"), status__in=[*WENT_OUT, R.DONE])
    newest = newest.order_by("-due_on", "-pk")
    said = CareLog.objects.filter(job=OuterRef("pk")).order_by("-logged_at", "-pk")
    jobs = _followed(branches).annotate(
        due_on=Subquery(newest.values("due_on")[:1]),
        reminder_status=Subquery(newest.values("status")[:1]),
        last_outcome=Subquery(said.values("outcome")[:1]),
    )
    late = jobs.filter(due_on__lte=today - timedelta(days=GRACE_DAYS)).exclude(
        reminder_status=R.DONE
    )
    rows = late.order_by("due_on", "pk").values(
        *("pk", "branch_id", "site_id", "site__label"),
        *("due_on", "reminder_status", "last_outcome"),
    )
    return [_overdue(row, today) for row in rows[:MOST_ROWS]]


def _overdue(row: dict[str, Any], today: date) -> dict[str, Any]:
    return {
        "job": row["pk"],
        "branch": row["branch_id"],
        "site": row["site_id"],
        "label": row["site__label"],
        "due_on": row["due_on"],
        "days_over": (today - row["due_on"]).days,
        "reminder": row["reminder_status"],
        "last_outcome": row["last_outcome"],
    }


def silent_homeowners(branches: Collection[int]) -> list[dict[str, Any]]:
    """Return installed jobs with two or more reminders sent since the last sign of life.

    A sign is a care log, a reading from the homeowner, or a look at the page. Most unanswered
    first; at most 200.
    """
    since = Greatest(
        _latest(CareLog.objects.filter(job=OuterRef("pk")), "logged_at"),
        _latest(Reading.objects.filter(site=OuterRef("site"), source="homeowner"), "created_at"),
        _latest(HomeownerLink.objects.filter(job=OuterRef("pk")), "last_used_at"),
    )
    jobs = _followed(branches).annotate(last_sign=since)
    sent = Q(reminders__status=R.SENT, reminders__sent_at__gt=F("last_sign"))
    silent = jobs.annotate(unanswered=Count("reminders", filter=sent))
    rows = (
        silent.filter(unanswered__gte=SILENT_AFTER)
        .order_by("-unanswered", "pk")
        .values("pk", "branch_id", "site_id", "site__label", "unanswered", "last_sign")
    )
    return [
        {
            "job": row["pk"],
            "branch": row["branch_id"],
            "site": row["site_id"],
            "label": row["site__label"],
            "unanswered": row["unanswered"],
            "last_sign": None if row["last_sign"] == NEVER else row["last_sign"],
        }
        for row in rows[:MOST_ROWS]
    ]


def _latest(rows: QuerySet[Any], column: str) -> Coalesce:
    newest = rows.exclude(**{column: None}).order_by(f"-{column}").values(column)[:1]
    return Coalesce(Subquery(newest), Value(NEVER), output_field=DateTimeField())


def _followed(branches: Collection[int]) -> QuerySet[Job]:
    return Job.objects.filter(branch__in=list(branches), status=Job.Status.INSTALLED)


def is_on_hold(job: Job) -> bool:
    """Whether nobody should turn a bolt before the office has looked at the wall."""
    return job.visit_requests.filter(
        reason__in=HOLDING_REASONS,
        status__in=[VisitRequest.Status.OPEN, VisitRequest.Status.PLANNED],
    ).exists()


def walls_by_verdict(branches: Collection[int]) -> dict[str, int]:
    """Return how many walls have which verdict."""
    rows = WallVerdict.objects.filter(branch__in=list(branches)).values("verdict")
    return {row["verdict"]: row["n"] for row in rows.annotate(n=Count("pk")).order_by("verdict")}


def walls_moving_in(branches: Collection[int]) -> list[dict[str, Any]]:
    """Return the walls that move in, the one to be read next first; at most 200."""
    rows = WallVerdict.objects.filter(branch__in=list(branches), verdict="moving in")
    return [
        {
            "site": wall.site_id,
            "branch": wall.branch_id,
            "label": wall.site.label,
            "wall": wall.wall,
            "reason": wall.reason,
            "last_reading_on": wall.last_reading_on,
            "next_reading_on": wall.next_reading_on,
        }
        for wall in rows.select_related("site").order_by("next_reading_on", "pk")[:MOST_ROWS]
    ]


def waiting(branches: Collection[int]) -> dict[str, int]:
    """Return how many things wait for a person of the office."""
    here = list(branches)
    visits = VisitRequest.objects.filter(branch__in=here, status=VisitRequest.Status.OPEN)
    unread = Q(meaning__in=[TextReply.Meaning.ASK_OFFICE, TextReply.Meaning.NONE])
    return {
        "visit_requests": visits.count(),
        "urgent_visit_requests": visits.filter(severity=4).count(),
        "replies": TextReply.objects.filter(
            unread, branch__in=here, handled_at__isnull=True
        ).count(),
        "unknown_messages": Reminder.objects.filter(branch__in=here, status=R.UNKNOWN).count(),
        "no_channel": Reminder.objects.filter(branch__in=here, status=R.NO_CHANNEL).count(),
        "readings_to_confirm": Reading.objects.filter(branch__in=here).exclude(doubt="").count(),
    }
