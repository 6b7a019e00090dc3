"""Work the scenario through the whole chain, from survey to reminders and readings."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import Any

from contractor.crews.models import CrewPlan, Visit
from contractor.crews.services import plans, visits
from contractor.demo.loading import World, bars, read_survey_file
from contractor.engine.units import read_length
from inventory.errors import InsufficientStockError
from inventory.models import CuttingPlan, Kit, Part, Supplier, SupplierOrder
from inventory.services import kitting, loading, ordering, planning, receiving, sawing
from inventory.services.ordering import OrderItem
from jobs.install_steps import JOB_STEPS
from jobs.models import BraceLayout, InstallRecord, Job, Reminder
from jobs.services import installs, jobs, material, readings, surveys
from jobs.services.zero_readings import spots_of

PLAN_DAYS = 28


@dataclass
class Told:
    """What happened, for the report."""

    layouts: list[tuple[str, str, BraceLayout]] = field(default_factory=list)
    jobs: dict[str, Job] = field(default_factory=dict)
    shortages: list[tuple[str, InsufficientStockError]] = field(default_factory=list)
    orders: list[SupplierOrder] = field(default_factory=list)
    cuts: list[CuttingPlan] = field(default_factory=list)
    plans: list[CrewPlan] = field(default_factory=list)
    install: InstallRecord | None = None
    reminders: list[Reminder] = field(default_factory=list)
    movement: dict[str, Any] | None = None


def work(world: World, scenario: dict[str, Any]) -> Told:
    """Do the office's, the warehouse's and one crew's work of a few weeks."""
    told = Told()
    for row in scenario["sites"]:
        _survey_and_open(world, row, told)
    _reserve_all(world, scenario["shortage"], told)
    _cut_and_pull(world, told)
    _plan_crews(world, told)
    _install_first(world, told)
    _measure(world, scenario["movement"], told)
    return told


def _survey_and_open(world: World, row: dict[str, Any], told: Told) -> None:
    site, layouts = world.sites[row["label"]], []
    for wall, file in row["walls"].items():
        survey = surveys.add_survey(
            site_pk=site.pk,
            wall=wall,
            document=read_survey_file(file),
            measured_on=world.today - timedelta(days=3),
        )
        layouts.append(surveys.lay_out(survey.pk))
        told.layouts.append((site.label, wall, layouts[-1]))
    wanted = row["job"]
    job = jobs.open_job(
        site_pk=site.pk,
        title=wanted["title"],
        layout_pks=[layout.pk for layout in layouts],
        severity=wanted["severity"],
        due=world.today + timedelta(days=wanted["due_days"]),
        skills=wanted["skills"],
    )
    if "release" in row:
        job = jobs.release_job(job.pk, released_on=world.today, **row["release"])
    told.jobs[site.label] = job


def _reserve_all(world: World, shortage: dict[str, Any], told: Told) -> None:
    """Reserve for the most severe wall first; what is short is ordered, received, reserved."""
    ready = [job for job in told.jobs.values() if job.status == Job.Status.RELEASED]
    for job in sorted(ready, key=lambda one: (-one.severity, one.pk)):
        try:
            material.reserve_job(job.pk, at=world.at)
        except InsufficientStockError as refusal:
            told.shortages.append((job.site.label, refusal))
    if told.shortages:
        _order_and_receive(world, shortage, told)
        for label, _ in told.shortages:
            material.reserve_job(told.jobs[label].pk, at=world.at)
    told.jobs = {label: Job.objects.get(pk=job.pk) for label, job in told.jobs.items()}


def _order_and_receive(world: World, shortage: dict[str, Any], told: Told) -> None:
    branch = world.branches[shortage["branch"]]
    supplier = Supplier.objects.get(company=world.company, name=shortage["supplier"])
    short_part = told.shortages[0][1].facts["shortages"][0]["part"]
    part = Part.objects.get(company=world.company, code=short_part)
    promised = world.today + timedelta(days=shortage["promised_days"])
    deliveries = list(bars(part, shortage["bars"]))
    items = [
        OrderItem(
            part.pk,
            one.cents,
            quantity=one.quantity,
            length_ticks=one.length_ticks,
            promised_on=promised,
        )
        for one in deliveries
    ]
    order = ordering.order(branch.pk, supplier.pk, items, reference="demonstration shortage")
    ordering.place_order(order.pk, at=world.at)
    lines = order.lines.order_by("pk")
    came = [
        replace(one, order_line_pk=line.pk) for one, line in zip(deliveries, lines, strict=True)
    ]
    receiving.receive_order(order.pk, came, at=world.at)
    told.orders.append(SupplierOrder.objects.get(pk=order.pk))


def _cut_and_pull(world: World, told: Told) -> None:
    """One cutting plan per branch and part over all kits; the first job's kit leaves.

    Only its plans are sawn: the other branch's wait at the saw, for whoever looks around.
    """
    for branch in world.branches.values():
        kits = list(Kit.objects.filter(branch=branch, status=Kit.Status.RESERVED).order_by("pk"))
        if kits:
            told.cuts += planning.plan_cuts([kit.pk for kit in kits], at=world.at)
    kit = _first_job(told).kit
    if kit is None:
        return
    for plan in CuttingPlan.objects.filter(pk__in=[plan.pk for plan in told.cuts], kits=kit):
        sawing.start_sawing(plan.pk)
        for bar in plan.bars.order_by("number"):
            sawing.record_sawn(bar.pk, at=world.at)
    _pull_stage_load(world, kit)


def _pull_stage_load(world: World, kit: Kit) -> None:
    kitting.start_pulling(kit.pk)
    for line in kit.lines.order_by("pk"):
        kitting.pull(kit.pk, line.pk, line.quantity)
    kitting.stage(kit.pk)
    loading.load(kit.pk, at=world.at)


def _first_job(told: Told) -> Job:
    return max(
        (job for job in told.jobs.values() if job.kit_id), key=lambda job: (job.severity, -job.pk)
    )


def _plan_crews(world: World, told: Told) -> None:
    for branch in world.branches.values():
        plan = plans.request_plan(
            branch.pk,
            today=world.today,
            first_day=world.today,
            last_day=world.today + timedelta(days=PLAN_DAYS),
            seconds=3,
            seed=1,
        )
        plans.compute_plan(plan.pk, at=world.at)
        plans.publish_plan(plan.pk)
        told.plans.append(CrewPlan.objects.get(pk=plan.pk))
    for visit in Visit.objects.filter(plan__in=told.plans).order_by("date", "half", "pk")[:2]:
        visits.confirm_visit(visit.pk)


def _install_first(world: World, told: Told) -> None:
    job = Job.objects.get(pk=_first_job(told).pk)
    on = Visit.objects.get(job=job).date
    install = installs.start_install(job.pk, on=on)
    for brace in install.braces.order_by("pk"):
        installs.record_brace(
            brace.pk,
            at=world.at,
            measured_height_ticks=brace.planned_height_ticks,
            torque_lbf_ft=brace.torque_limit_lbf_ft,
            tool="click wrench, 3/4 in socket set",
            anchors_set=brace.anchors_wanted,
            is_sealed=brace.needs_seal,
            out_of_plumb_ticks=4,
            label_date=on,
        )
    _measure_first(job, on)
    told.install = installs.close_install(
        install.pk,
        installed_on=Visit.objects.get(job=job).last_date,
        checklist=dict.fromkeys(JOB_STEPS, True),
        left_with_homeowner=["torque wrench", "instructions", "card with the office's number"],
        signed_off_by="T. Okafor",
    )
    visits.finish_visits()
    told.reminders = list(job.reminders.order_by("due_on"))


def _measure_first(job: Job, on: date) -> None:
    """The zero reading: how far the wall stands in on the day it is braced."""
    for spot in spots_of(job):
        row = {
            "kind": "bow",
            "measured_on": on,
            "at_ticks": spot.at_ticks,
            "height_ticks": spot.height_ticks,
            "value_ticks": read_length("1/2 in", ""),
            "instrument": "steel rule from a taut line",
            "resolution_ticks": 1,
        }
        readings.add_readings(site_pk=job.site_id, wall=spot.wall, rows=[row], source="crew")


def _measure(world: World, series: dict[str, Any], told: Told) -> None:
    """Readings of a wall that was braced some time ago: is it coming back?"""
    site = world.sites[series["site"]]
    first = world.today - timedelta(days=series["every_days"] * (len(series["inward"]) - 1))
    rows = [
        {
            "kind": "bow",
            "measured_on": first + timedelta(days=series["every_days"] * number),
            "at_ticks": read_length(series["at"], ""),
            "height_ticks": read_length(series["height"], ""),
            "value_ticks": read_length(text, ""),
            "instrument": "steel rule from a taut line",
            "resolution_ticks": 1,
        }
        for number, text in enumerate(series["inward"])
    ]
    readings.add_readings(site_pk=site.pk, wall=series["wall"], rows=rows, source="office")
    told.movement = readings.movement_of(site, series["wall"])


def week_of(plan: CrewPlan) -> list[tuple[str, date, str, int, str]]:
    """Return (crew, first day, half, half-days, job) of a published plan, in time order."""
    rows = Visit.objects.filter(plan=plan).select_related("crew", "job__site")
    return [
        (visit.crew.name, visit.date, visit.half, visit.half_days, visit.job.site.label)
        for visit in rows.order_by("date", "half", "crew__name")
    ]
