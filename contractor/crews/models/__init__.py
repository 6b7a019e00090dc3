"""Crews, members, certificates, vehicles, calendars, crew plans and visits."""

from contractor.crews.models.calendars import Absence, CalendarFeed, Holiday
from contractor.crews.models.crews import Certificate, Crew, Member, Vehicle
from contractor.crews.models.plans import CrewPlan, Visit

__all__ = [
    "Absence",
    "CalendarFeed",
    "Certificate",
    "Crew",
    "CrewPlan",
    "Holiday",
    "Member",
    "Vehicle",
    "Visit",
]
