"""Coordinates of sites from their addresses, if a geocoder is configured.

Coordinates are typed in as a rule. ``settings.GEOCODER`` may name (dotted path) a class or
function without arguments that gives a :class:`Geocoder`; by default there is none, and no
address leaves the building.
"""

from __future__ import annotations

from typing import Protocol

from django.conf import settings
from django.utils.module_loading import import_string

from contractor.api import events
from contractor.api.transactions import service
from contractor.engine.rostering.travel import Place
from jobs import locks as job_locks
from jobs.models import Site

MOST_AT_ONCE = 50


class Geocoder(Protocol):
    """Anything that finds an address; None where it is not sure. Raises OSError when it is down."""

    def locate(self, address: str) -> Place | None: ...


def geocoder() -> Geocoder | None:
    path = getattr(settings, "GEOCODER", "")
    if not path:
        return None
    found: Geocoder = import_string(path)()
    return found


def locate_sites() -> int:
    """Look up the sites that have an address and no coordinates; return how many were found.

    Asks outside any transaction; an address that changed meanwhile is left for the next time.
    """
    finder = geocoder()
    if finder is None:
        return 0
    rows = Site.objects.filter(latitude__isnull=True).exclude(address="").order_by("pk")
    count = 0
    for pk, address in list(rows.values_list("pk", "address")[:MOST_AT_ONCE]):
        try:
            place = finder.locate(address)
        except OSError:
            return count
        if place is not None:
            count += _keep(pk, address, place)
    return count


@service
def _keep(site_pk: int, address: str, place: Place) -> bool:
    site = job_locks.lock_site(site_pk)
    if site.latitude is not None or site.address != address:
        return False
    site.latitude, site.longitude = place.latitude, place.longitude
    site.save()
    events.record("site.located", site, branch=site.branch)
    return True
