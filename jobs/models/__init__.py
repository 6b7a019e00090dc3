"""Customers, sites, surveys, layouts, jobs, install records, reminders, readings."""

from jobs.models.customers import Consent, Customer, Site
from jobs.models.followup import HomeownerLink, Reading, Reminder, VisitRequest
from jobs.models.installs import BraceRecord, InstallRecord, Photo
from jobs.models.jobs import Blackout, EngineerRelease, Job, JobWall
from jobs.models.surveys import BraceLayout, Survey

__all__ = [
    "Blackout",
    "BraceLayout",
    "BraceRecord",
    "Consent",
    "Customer",
    "EngineerRelease",
    "HomeownerLink",
    "InstallRecord",
    "Job",
    "JobWall",
    "Photo",
    "Reading",
    "Reminder",
    "Site",
    "Survey",
    "VisitRequest",
]
