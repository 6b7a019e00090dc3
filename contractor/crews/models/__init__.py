"""Crews, members, certificates, vehicles, calendars, crew plans, service plans and visits."""

from contractor.crews.models.calendars import Absence, CalendarFeed, Holiday
from contractor.crews.models.crews import Certificate, Crew, Member, Vehicle
from contractor.crews.models.plans import CrewPlan, Pin, Proposal, Visit
from contractor.crews.models.service import ServicePlan, ServiceVisit, ServiceWindow

__all__ = [
    "Absence",
    "CalendarFeed",
    "Certificate",
    "Crew",
    "CrewPlan",
    "Holiday",
    "Member",
    "Pin",
    "Proposal",
    "ServicePlan",
    "ServiceVisit",
    "ServiceWindow",
    "Vehicle",
    "Visit",
]
