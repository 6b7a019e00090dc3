"""Load the scenario: company, branches, people, crews, catalogue, stock, sites."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

from django.conf import settings

from contractor.api.models import Branch, Company, Membership, User
from contractor.crews.models import Certificate, Crew, Member, Vehicle
from contractor.engine.units import read_length, read_quantity
from inventory.amounts import Delivery
from inventory.models import Part
from inventory.services.catalogue import load_catalogue
from inventory.services.receiving import receive
from jobs.models import Customer, Site
from jobs.services import customers

FIXTURES = Path(settings.BASE_DIR) / "fixtures"
CENTS_PER_FOOT = 700  # what the demonstration paid for an offcut's steel


@dataclass
class World:
    """Rows of the scenario by the names that it uses."""

    company: Company
    today: date
    at: datetime
    branches: dict[str, Branch] = field(default_factory=dict)
    sites: dict[str, Site] = field(default_factory=dict)


def read_scenario() -> dict[str, Any]:
    scenario: dict[str, Any] = json.loads((FIXTURES / "demo.json").read_text())
    return scenario


def read_survey_file(name: str) -> dict[str, Any]:
    survey: dict[str, Any] = json.loads((FIXTURES / "surveys" / name).read_text())
    return survey


def load(scenario: dict[str, Any], *, today: date, at: datetime) -> World:
    """Create everything that is there before the first job."""
    company = Company.objects.create(**scenario["company"])
    world = World(company, today, at)
    for row in scenario["branches"]:
        values = {name: value for name, value in row.items() if name != "key"}
        world.branches[row["key"]] = Branch.objects.create(company=company, **values)
    _load_users(world, scenario["users"])
    _load_crews(world, scenario["crews"])
    catalogue = json.loads((FIXTURES / "parts.json").read_text())
    supplier = scenario["shortage"]["supplier"]
    load_catalogue(catalogue, company_pk=company.pk, supplier_name=supplier)
    _load_stock(world, scenario)
    for row in scenario["sites"]:
        world.sites[row["label"]] = _load_site(world, row)
    return world


def _load_users(world: World, rows: Iterable[dict[str, Any]]) -> None:
    for row in rows:
        user, _ = User.objects.get_or_create(username=row["name"])
        for key in row["branches"]:
            branch = world.branches[key]
            Membership.objects.get_or_create(user=user, branch=branch, role=row["role"])


def _load_crews(world: World, rows: Iterable[dict[str, Any]]) -> None:
    for row in rows:
        branch = world.branches[row["branch"]]
        payload = read_quantity(row["payload"], "lb", "/payload")
        van = Vehicle.objects.create(branch=branch, name=f"{row['name']} van", payload_lb=payload)
        crew = Crew.objects.create(branch=branch, name=row["name"], vehicle=van)
        for person in row["members"]:
            member = Member.objects.create(branch=branch, crew=crew, name=person["name"])
            for skill, days in person["certificates"].items():
                Certificate.objects.create(
                    branch=branch,
                    member=member,
                    skill=skill,
                    valid_from=world.today - timedelta(days=300),
                    valid_to=world.today + timedelta(days=days),
                )


def _load_stock(world: World, scenario: dict[str, Any]) -> None:
    for row in scenario["stock"]:
        part = Part.objects.get(company=world.company, code=row["part"])
        items = list(bars(part, row["bars"]))
        for text in row["offcuts"]:
            ticks = read_length(text, "/offcuts")
            cents = ticks * CENTS_PER_FOOT // (12 * 64)
            items.append(Delivery(part.pk, cents, quantity=1, length_ticks=ticks))
        items += _everything_else(world, scenario, part)
        branch = world.branches[row["branch"]]
        receive(branch.pk, items, at=world.at, reference="opening stock")


def bars(part: Part, counts: dict[str, int]) -> Iterable[Delivery]:
    """Return deliveries of full bars at the catalogue's price."""
    for text, count in counts.items():
        ticks = read_length(text, "/bars")
        price = part.price_list.get(length_ticks=ticks).pack_cents
        yield Delivery(part.pk, price * count, quantity=count, length_ticks=ticks)


def _everything_else(world: World, scenario: dict[str, Any], beam: Part) -> list[Delivery]:
    """Return plenty of every part but beams, so that only the beams can run short."""
    items = []
    parts = Part.objects.filter(company=world.company).exclude(role="beam")
    for part in parts.order_by("pk").prefetch_related("price_list"):
        for price in part.price_list.all():
            count = scenario["sticks_of_lumber" if part.is_bar else "units_of_everything_else"]
            cents = price.pack_cents * count // price.pack_size
            items.append(Delivery(part.pk, cents, quantity=count, length_ticks=price.length_ticks))
    return items


def _load_site(world: World, row: dict[str, Any]) -> Site:
    branch, owner = world.branches[row["branch"]], row["homeowner"]
    names = ("name", "email", "phone", "language")
    customer = Customer.objects.create(branch=branch, **{name: owner[name] for name in names})
    if owner["consent"]:
        customers.grant_consent(
            customer.pk, channel=owner["consent"], source="paper form", at=world.at
        )
    return Site.objects.create(
        branch=branch,
        customer=customer,
        time_zone=branch.time_zone,
        **{
            name: row[name]
            for name in ("label", "address", "latitude", "longitude", "state", "built_year")
        },
    )
