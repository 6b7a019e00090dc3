"""What all pages share: headers, who asks, uploads that are too long, typed values."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from functools import wraps
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse, QueryDict
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.views.decorators.csrf import csrf_exempt, csrf_protect

from contractor.engine import units
from contractor.engine.errors import InputError

MOST_PHOTOS = 6
MOST_UPLOAD = MOST_PHOTOS * 10 * 1024 * 1024 + 1024 * 1024
View = Callable[..., HttpResponseBase]


def page(
    request: HttpRequest, template: str, facts: dict[str, Any], status: int = 200
) -> HttpResponse:
    """Render a page that nobody stores or lists; its address stays on this site.

    The Referrer-Policy is "same-origin": with "no-referrer" browsers send ``Origin: null``
    with a form, which the CSRF check refuses.
    """
    response = render(request, template, facts, status=status)
    response["Cache-Control"] = "no-store"
    response["Referrer-Policy"] = "same-origin"
    response["X-Robots-Tag"] = "noindex, nofollow"
    return response


def new_once_key() -> str:
    """Return the hidden key of a form that is shown."""
    return secrets.token_urlsafe(18)


def client_address(request: HttpRequest) -> str:
    """Return the address that asks; behind a proxy what the nearest proxy has seen."""
    forwarded = request.META.get("HTTP_X_FORWARDED_FOR", "")
    if getattr(settings, "SECURE_PROXY_SSL_HEADER", None) and forwarded:
        return str(forwarded.rsplit(",", 1)[-1]).strip()
    return str(request.META.get("REMOTE_ADDR", ""))


def takes_photos(view: View) -> View:
    """Refuse (413) a body that is too long before anything reads it, then check the CSRF token.

    The CSRF middleware reads the whole form to find its token, so it must come second.
    """
    protected = csrf_protect(view)

    @wraps(view)
    def guard(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        length = request.META.get("CONTENT_LENGTH") or "0"
        if not str(length).isdecimal() or int(length) > MOST_UPLOAD:
            return HttpResponse("Too much at once.", status=413, content_type="text/plain")
        return protected(request, *args, **kwargs)

    return csrf_exempt(guard)


@dataclass
class Typed:
    """What somebody typed into a form, read field by field; ``errors`` collects what is wrong.

    ``words`` gives the messages (keys ``e_length``, ``e_torque``, ``e_day``, ``e_choice``).
    """

    data: QueryDict
    words: dict[str, str]
    errors: dict[str, str] = field(default_factory=dict)

    def fail(self, name: str, key: str) -> None:
        self.errors.setdefault(name, self.words.get(key, key))

    def text(self, name: str, most: int = 2000) -> str:
        return self.data.get(name, "").replace("\0", "").strip()[:most]

    def choice(self, name: str, among: tuple[str, ...]) -> str:
        value = self.text(name)
        if value not in among:
            self.fail(name, "e_choice")
        return value

    def length(self, name: str) -> int | None:
        """Return ticks; None where nothing was typed or it cannot be read (see ``errors``).

        What was typed in inches finer than a tape shows goes to the nearest 1/64 in.
        """
        value = self.text(name, 60)
        if not value:
            return None
        try:
            inches = units.parse_length(value)
        except InputError:
            self.fail(name, "e_length")
            return None
        if abs(inches) > units.MAX_INCHES:
            self.fail(name, "e_length")
            return None
        return units.nearest_tick(inches)

    def torque(self, name: str) -> float | None:
        """Return lbf ft; a number without a unit is ft-lb, as the wrench shows it."""
        value = self.text(name, 60)
        if not value:
            return None
        bare = value.replace(".", "", 1).isascii() and value.replace(".", "", 1).isdigit()
        try:
            torque = units.read_quantity(f"{value} lbf ft" if bare else value, "lbf ft", "")
        except InputError:
            torque = -1.0
        if not 0 <= torque <= 300:
            self.fail(name, "e_torque")
            return None
        return torque

    def day(self, name: str, latest: date) -> date | None:
        try:
            found = date.fromisoformat(self.text(name, 10))
        except ValueError:
            self.fail(name, "e_day")
            return None
        if found > latest:
            self.fail(name, "e_day")
            return None
        return found
