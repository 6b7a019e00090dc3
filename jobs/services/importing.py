"""A job that comes as a document: all of it or nothing, and once.

Nothing that can be computed is believed: layouts and screenings are worked out again under the
company's own settings. Of a job that was built, what the document says is kept beside them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from contractor.api import events
from contractor.api.models import Branch
from contractor.api.transactions import service
from contractor.engine.errors import InputError
from contractor.engine.survey_reader import read_survey
from contractor.errors import InvalidValueError
from jobs import locks
from jobs.errors import NoLayoutError
from jobs.models import BraceLayout, Job, JobWall, LayoutRecord, Site
from jobs.services import importing_people, importing_story
from jobs.services.assessing import Assessment, assess
from jobs.services.surveys import layout_of

J = Job.Status
BUILT = frozenset({J.INSTALLING, J.INSTALLED, J.CLOSED})
RECORDS: Mapping[str, str] = {J.INSTALLING: "open", J.INSTALLED: "closed", J.CLOSED: "closed"}
Document = Mapping[str, Any]


@dataclass(frozen=True)
class Step:
    part: str
    fate: str
    count: int
    detail: str = ""


@dataclass
class Report:
    """What came of a document; ``steps`` in the order in which they were taken."""

    fate: str = "created"
    job: Job | None = None
    steps: list[Step] = field(default_factory=list)

    def add(self, part: str, fate: str, count: int = 1, detail: str = "") -> None:
        if count:
            self.steps.append(Step(part, fate, count, detail))


def compute(branch: Branch, document: Document) -> list[Assessment]:
    """Return what the engine makes of each wall today. Raises InputError with its pointer."""
    found = []
    for number, wall in enumerate(document["walls"]):
        for row, survey in enumerate(wall["surveys"]):
            pointer = f"/document/walls/{number}/surveys/{row}/document"
            try:
                read_survey(survey["document"])
                if survey["revision"] == wall["layout"]["revision"]:
                    found.append(assess(survey["document"], branch.company))
            except InputError as error:
                below = pointer + error.pointer
                raise InputError(error.code, below, error.reason, error.remedy) from error
    return found


@service
def import_job(
    branch_pk: int,
    document: Document,
    assessments: Sequence[Assessment],
    *,
    keep_consent: bool,
    at: datetime,
) -> Report:
    """Store the job of a read ``job-document/1``; a job that is here already stays as it is.

    ``assessments`` are what ``compute`` gave. Consent is kept as taken back unless
    ``keep_consent``: the homeowner may have agreed with somebody else.
    """
    branch, report = locks.lock_branch(branch_pk), Report()
    known = Job.objects.filter(branch=branch, document_key=document["key"]).first()
    if known is not None:
        report.fate, report.job = "unchanged", known
        report.add("job", "unchanged", detail="This job has been imported here already.")
        return report
    _check_story(document)
    customer = importing_people.customer_of(branch, document, report, keep_consent, at)
    site = importing_people.site_of(customer, document, report)
    layouts = _layouts(site, document, assessments, report)
    job = report.job = _job(site, document, layouts, report)
    importing_story.tell(job, document, [layout.screening for layout in layouts], report, at)
    events.record("job.imported", job, branch=branch, status=job.status)
    return report


def _check_story(document: Document) -> None:
    """Refuse what contradicts itself: a status without its record, rows of no wall."""
    _check_install(document["job"]["status"], document["install"])
    walls = [wall["wall"] for wall in document["walls"]]
    if len(set(walls)) != len(walls):
        raise InvalidValueError("A wall is there twice.", remedy="Give each wall once.")
    braces = (document["install"] or {}).get("braces", [])
    for name, rows in (("install/braces", braces), ("readings", document["readings"])):
        for number, row in enumerate(rows):
            if row["wall"] not in walls:
                raise InvalidValueError(
                    f"{row['wall']} is no wall of this document.",
                    remedy="Name one of its walls.",
                    pointer=f"#/document/{name}/{number}/wall",
                )


def _check_install(status: str, install: Mapping[str, Any] | None) -> None:
    wanted = RECORDS.get(status)
    found = install["status"] if install else None
    if wanted != found:
        raise InvalidValueError(
            f"A job that is {status} has {wanted or 'no'} install record, here it is {found}.",
            remedy="Export the job again; do not change its status in the document.",
            pointer="#/document/install",
        )
    if install and found == "closed" and install["installed_on"] is None:
        raise InvalidValueError(
            "A closed install record names its day.",
            remedy="Give installed_on.",
            pointer="#/document/install/installed_on",
        )


def _layouts(
    site: Site, document: Document, assessments: Sequence[Assessment], report: Report
) -> list[BraceLayout]:
    made, same = [], 0
    for wall, answer in zip(document["walls"], assessments, strict=True):
        survey = importing_people.surveys_of(site, wall, report)[wall["layout"]["revision"]]
        layout, _ = layout_of(survey, answer)
        made.append(layout)
        if is_same(layout, wall["layout"]):
            same += 1
            continue
        told = wall["layout"]
        report.add(
            "layout",
            "recomputed",
            detail=f"{wall['wall']}: {told['engine']} had {_words(told['layout'], told)}, "
            f"now it is {_words(layout.layout, layout)}.",
        )
    report.add("layout", "created", same, "Worked out again with the same result.")
    return made


def is_same(layout: BraceLayout, told: Mapping[str, Any]) -> bool:
    """Whether the document's layout and screening are what the engine finds itself."""
    own = (layout.outcome, layout.layout, layout.screening)
    return own == (told["outcome"], told["layout"], told["screening"])


def _words(layout: Mapping[str, Any], row: Any) -> str:
    outcome = row["outcome"] if isinstance(row, Mapping) else row.outcome
    braces = layout.get("braces")
    count = len(braces) if isinstance(braces, list) else 0
    return f"{count} braces, {outcome.replace('_', ' ')}"


def _job(site: Site, document: Document, layouts: Sequence[BraceLayout], report: Report) -> Job:
    told = document["job"]
    values = {name: value for name, value in told.items() if name not in ("blackouts", "releases")}
    job = Job(branch=site.branch, site=site, document_key=document["key"], **values)
    job.status = _status(document, layouts, report)
    job.labour_minutes = sum(layout.labour_minutes for layout in layouts)
    job.weight_lb = sum(layout.weight_lb for layout in layouts)
    job.brace_count = sum(layout.brace_count for layout in layouts)
    job.save()
    report.add("job", "created", detail=f"It is {job.get_status_display()}.")
    for wall, layout in zip(document["walls"], layouts, strict=True):
        JobWall.objects.create(job=job, wall=wall["wall"], layout=layout)
        if job.status in BUILT and not is_same(layout, wall["layout"]):
            _keep_record(job, wall, report)
    for row in told["blackouts"]:
        job.blackouts.create(**row)
    for row in told["releases"]:
        job.releases.create(**row, entered_by="import")
    report.add("release", "created", len(told["releases"]))
    return job


def _keep_record(job: Job, wall: Mapping[str, Any], report: Report) -> None:
    told = {name: value for name, value in wall["layout"].items() if name != "revision"}
    LayoutRecord.objects.create(job=job, wall=wall["wall"], **told)
    report.add(
        "layout",
        "kept_as_record",
        detail=f"{wall['wall']} was built by the layout of {told['engine']}; it stays to be read.",
    )


def _status(document: Document, layouts: Sequence[BraceLayout], report: Report) -> str:
    """Return where the job stands here: what is built stays built, all else is decided anew."""
    told = str(document["job"]["status"])
    if told in BUILT or told == J.CANCELLED:
        return told
    if any(layout.outcome == BraceLayout.Outcome.NO_LAYOUT for layout in layouts):
        raise NoLayoutError(
            "No layout meets the rules on a wall of this job.",
            remedy="Change the company's rules, or measure the wall again and open a job.",
        )
    pairs = zip(layouts, document["walls"], strict=True)
    needs_engineer = any(layout.outcome == BraceLayout.Outcome.REVIEW for layout in layouts)
    is_covered = bool(document["job"]["releases"]) and all(
        is_same(layout, wall["layout"]) for layout, wall in pairs
    )
    if told == J.IN_REVIEW or (needs_engineer and not is_covered):
        now = J.IN_REVIEW
    else:
        now = J.RELEASED
    if told != now:
        report.add("status", "changed", detail=f"{told} there, {now} here: nothing is reserved.")
    return now
