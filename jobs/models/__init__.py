"""Customers, sites, surveys, layouts, jobs, install records, reminders, readings."""

from jobs.models.care import CareLog, TextReply, WallVerdict
from jobs.models.customers import Consent, Customer, Site
from jobs.models.followup import HomeownerLink, Reading, Reminder, VisitRequest
from jobs.models.installs import BraceRecord, InstallRecord, Photo
from jobs.models.jobs import Blackout, EngineerRelease, Job, JobWall, LayoutRecord
from jobs.models.pages import FormPost, LinkMiss
from jobs.models.surveys import BraceLayout, Survey

__all__ = [
    "Blackout",
    "BraceLayout",
    "BraceRecord",
    "CareLog",
    "Consent",
    "Customer",
    "EngineerRelease",
    "FormPost",
    "HomeownerLink",
    "InstallRecord",
    "Job",
    "JobWall",
    "LayoutRecord",
    "LinkMiss",
    "Photo",
    "Reading",
    "Reminder",
    "Site",
    "Survey",
    "TextReply",
    "VisitRequest",
    "WallVerdict",
]
