"""The homeowner's page behind the secret link ``/h/<token>``: works without script.

Every form is on the one page and posts back to it; a form that took effect answers with a
redirect, a refused one shows the page again with what was typed.
"""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from contractor.api.actor import acting_as
from jobs.errors import LinkError, LinkGoneError
from jobs.pages.common import Typed, client_address, new_once_key, page, takes_photos
from jobs.pages.homeowner_facts import Caller, last_text, page_facts, place_label
from jobs.pages.homeowner_forms import Answer, take
from jobs.pages.words import WORDS, words_of
from jobs.services import links

SAVED = frozenset(
    {"care_done", "care_could_not", "care_something_wrong", "readings", "doubt", "visit"}
    | {"channel", "stop", "photo"}
)


@takes_photos
@require_http_methods(["GET", "HEAD", "POST"])
def homeowner(request: HttpRequest, token: str) -> HttpResponse:
    """Show the page or take a form; 404, 410 and 429 say whom to call."""
    at = timezone.now()
    address = client_address(request)
    if links.is_throttled(address, at=at):
        response = _dead_end(request, "too_many", 429)
        response["Retry-After"] = str(links.window_ends_in(at))
        return response
    try:
        link = links.find_link(token, at=at)
    except LinkGoneError as refusal:
        return _dead_end(request, "gone", 410, refusal.facts)
    except LinkError:
        links.note_miss(address, at=at)
        return _dead_end(request, "unknown", 404)
    language = _language(request, link.job.site.customer.language)
    caller = Caller(link, token, language, at)
    with acting_as(caller.principal):
        if request.method == "POST":
            return _taken(request, caller)
    return _shown(request, caller)


def _language(request: HttpRequest, own: str = "") -> str:
    for wanted in (request.GET.get("lang", ""), own):
        if wanted in WORDS:
            return wanted
    return "es" if request.headers.get("Accept-Language", "").startswith("es") else "en"


def _dead_end(
    request: HttpRequest, state: str, status: int, facts: dict[str, Any] | None = None
) -> HttpResponse:
    language = _language(request)
    shown = {"w": words_of(language), "lang": language, "state": state, **(facts or {})}
    return page(request, "pages/link_dead_end.html", shown, status)


def _taken(request: HttpRequest, caller: Caller) -> HttpResponse:
    answer = take(request, caller)
    if answer.saved is None:
        return _shown(request, caller, answer, status=400)
    language = f"&lang={caller.language}" if "lang" in request.GET else ""
    url = f"{request.path}?saved={answer.saved}{language}"
    return HttpResponseRedirect(url, status=303)


def _shown(
    request: HttpRequest, caller: Caller, refused: Answer | None = None, status: int = 200
) -> HttpResponse:
    saved = request.GET.get("saved", "") if refused is None else ""
    facts, forms = page_facts(caller), _forms(caller, refused)
    facts |= {
        "saved": caller.words[f"saved_{saved}"] if saved in SAVED else "",
        "saved_wrong": saved == "care_something_wrong",
        "once": new_once_key(),
        "action": f"?lang={caller.language}" if "lang" in request.GET else "",
        "forms": forms,
        "errors": _summary(refused.typed, forms) if refused else [],
    }
    return page(request, "pages/homeowner.html", facts, status)


def _summary(typed: Typed, forms: dict[str, Any]) -> list[tuple[str, str]]:
    """Return (id of the field, label and refusal) for the list above the page."""
    fields = [one for one in forms.values() if isinstance(one, dict)]
    fields += [one for key in ("torques", "places") for one in forms[key]]
    labels = {one["name"]: one["label"] for one in fields}
    return [
        (name, f"{labels[name].rstrip('?')}: {text}" if name in labels else text)
        for name, text in typed.errors.items()
        if name != "again"
    ]


def _forms(caller: Caller, refused: Answer | None) -> dict[str, Any]:
    """Return the fields of every form; the refused one keeps what was typed."""

    def field(form: str, name: str, label: str, hint: str = "", **other: Any) -> dict[str, Any]:
        typed = refused.typed if refused and refused.form == form else None
        value = typed.text(name) if typed else other.pop("value", "")
        error = typed.errors.get(name, "") if typed else ""
        return {"name": name, "label": label, "hint": hint, "error": error, **other, "value": value}

    w = caller.words
    return {
        "outcome": field("care", "outcome", w["care_question"]),
        "outcomes": [
            (key, w[f"care_{key}"], w[f"care_{key}_hint"])
            for key in ("done", "could_not", "something_wrong")
        ],
        "torques": [
            field("care", f"torque-{b.pk}", f"{b.mark}, {b.wall}", mode="decimal")
            for b in caller.braces
        ],
        "note": field("care", "note", w["note"], kind="area"),
        "measured_on": field(
            "readings",
            "measured_on",
            w["measured_on"],
            kind="date",
            value=caller.today.isoformat(),
            most=caller.today.isoformat(),
        ),
        "places": [
            field("readings", p.name, place_label(caller, p), last_text(caller, p))
            for p in caller.places
        ],
        **_other_fields(caller, field),
        "again": bool(refused and refused.typed.errors.get("again")),
        "photo": field("photo", "photo", w["photo"], w["photo_hint"]),
        "detail": field("visit", "detail", w["visit_detail"], kind="area"),
        "channel": field("channel", "channel", w["channel_question"]),
        "address": field("channel", "address", w["channel_address"], w["channel_address_hint"]),
    }


def _other_fields(caller: Caller, field: Any) -> dict[str, Any]:
    w = caller.words
    rows = {
        "other_kind": field("readings", "other-kind", w["other_kind"]),
        "other_wall": field("readings", "other-wall", w["wall"]),
        "other_at": field("readings", "other-at", w["other_at"], w["place_hint"]),
        "other_height": field("readings", "other-height", w["other_height"], w["place_hint"]),
        "other_value": field("readings", "other-value", w["other_value"], w["length_hint"]),
    }
    is_open = any(row["error"] for row in rows.values()) or any(
        rows[key]["value"] for key in ("other_at", "other_height", "other_value")
    )
    return {**rows, "walls": caller.walls, "other_open": is_open or not caller.places}
