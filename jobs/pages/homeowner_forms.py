"""The forms of the homeowner's page: read, refused beside the field, or done once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest

from contractor.errors import DomainError, InvalidValueError
from jobs.errors import DoubtfulReadingError, PictureError
from jobs.models import CareLog, Consent
from jobs.pages.common import Typed
from jobs.pages.homeowner_facts import Caller
from jobs.services import customers, forms, homeowner, photos, readings

INSTRUMENT = "homeowner's tape"
RESOLUTION_TICKS = 4  # a household tape shows 1/16 in
Rows = dict[str, list[tuple[str, dict[str, Any]]]]


@dataclass(frozen=True)
class Answer:
    """``saved`` names the message of a form that took effect, None where ``typed`` says why
    not."""

    form: str
    typed: Typed
    saved: str | None = None


def take(request: HttpRequest, caller: Caller) -> Answer:
    """Do what the posted form asks, once."""
    typed = Typed(request.POST, caller.words)
    form = typed.text("form", 20)
    handler = HANDLERS.get(form)
    if handler is None:
        typed.fail("form", "e_form")
        return Answer("care", typed)
    act, saved = handler(request, caller, typed)
    if typed.errors or act is None:
        return Answer(form, typed)
    return _do(Answer(form, typed, saved), act, caller)


def _do(answer: Answer, act: Callable[[], object], caller: Caller) -> Answer:
    try:
        forms.once(caller.principal, answer.typed.text("once", 80), act, at=caller.at)
    except DomainError as refusal:
        _refuse(answer.typed, refusal)
        return Answer(answer.form, answer.typed)
    return answer


def _refuse(typed: Typed, refusal: DomainError) -> None:
    """Put a refusal of the services beside the field it is about (see ``_AtRowsError``)."""
    if isinstance(refusal, _AtRowsError):
        for name, key in refusal.facts["fields"].items():
            typed.fail(name, key)
    elif isinstance(refusal, InvalidValueError) and "channel" in refusal.facts:
        typed.fail("address", "e_address")
    else:
        typed.fail("form", "e_form")


class _AtRowsError(DomainError):
    """Carries field name -> message key out of the transaction that it undoes."""

    code = "refused_fields"


Handled = tuple[Callable[[], object] | None, str]


def _care(request: HttpRequest, caller: Caller, typed: Typed) -> Handled:
    outcome = typed.choice("outcome", tuple(CareLog.Outcome.values))
    note = typed.text("note")
    rows: Rows = {}
    for brace in caller.braces:
        name = f"torque-{brace.pk}"
        torque = typed.torque(name)
        if torque is not None:
            row = {"kind": "torque", "mark": brace.mark, "torque_lbf_ft": torque}
            rows.setdefault(brace.wall, []).append((name, {**row, "measured_on": caller.today}))

    def act() -> None:
        _add(caller, rows, is_sure=True)
        homeowner.log_care(caller.job.pk, outcome=outcome, note=note, at=caller.at)

    return act, f"care_{outcome}"


def _readings(request: HttpRequest, caller: Caller, typed: Typed) -> Handled:
    on = typed.day("measured_on", caller.today)
    rows: Rows = {}
    for place in caller.places:
        value = typed.length(place.name)
        if value is not None:
            row = _row(place.kind, place.at_ticks, place.height_ticks, value)
            rows.setdefault(place.wall, []).append((place.name, row))
    _other_place(caller, typed, rows)
    if not rows and not typed.errors:
        first = caller.places[0].name if caller.places else "other-value"
        typed.fail(first, "e_nothing")
    for row in (row for found in rows.values() for _, row in found):
        row["measured_on"] = on
    is_sure = typed.text("again") == "yes"
    return lambda: _add(caller, rows, is_sure=is_sure), "doubt" if is_sure else "readings"


def _other_place(caller: Caller, typed: Typed, rows: Rows) -> None:
    names = ("other-at", "other-height", "other-value")
    if not any(typed.text(name) for name in names):
        return
    at, height, value = (typed.length(name) for name in names)
    for name in names:
        if not typed.text(name):
            typed.fail(name, "e_needs")
    kind = typed.choice("other-kind", ("bow", "crack"))
    wall = typed.choice("other-wall", tuple(caller.walls))
    if at is None or height is None or value is None or typed.errors:
        return
    for name, ticks in (("other-at", at), ("other-height", height)):
        if ticks < 0:
            typed.fail(name, "e_length")
    rows.setdefault(wall, []).append(("other-value", _row(kind, at, height, value)))


def _row(kind: str, at_ticks: int, height_ticks: int, value_ticks: int) -> dict[str, Any]:
    return {
        "kind": kind,
        "at_ticks": at_ticks,
        "height_ticks": height_ticks,
        "value_ticks": value_ticks,
        "instrument": INSTRUMENT,
        "resolution_ticks": RESOLUTION_TICKS,
    }


def _add(caller: Caller, rows: Rows, *, is_sure: bool) -> None:
    """Add readings wall by wall; what is refused is told by the name of its field."""
    for wall, found in rows.items():
        names = [name for name, _ in found]
        try:
            readings.add_readings(
                site_pk=caller.job.site_id,
                wall=wall,
                rows=[row for _, row in found],
                source="homeowner",
                asks_back=not is_sure,
            )
        except DoubtfulReadingError as refusal:
            keys = {
                names[row]: "e_before" if doubt.startswith("before") else "e_doubt"
                for row, doubt in refusal.facts["doubts"].items()
            }
            raise _AtRowsError("doubt", fields={**keys, "again": "again"}) from refusal
        except InvalidValueError as refusal:
            row = refusal.facts.get("row")
            key = "e_range" if row is None else "e_same_day"
            raise _AtRowsError("refused", fields={names[row or 0]: key}) from refusal


def _visit(request: HttpRequest, caller: Caller, typed: Typed) -> Handled:
    detail = typed.text("detail")
    return (
        lambda: readings.ask_for_visit(
            caller.job.pk, reason="asked", detail=detail, on=caller.today
        ),
        "visit",
    )


def _channel(request: HttpRequest, caller: Caller, typed: Typed) -> Handled:
    channel = typed.choice("channel", tuple(Consent.Channel.values))
    address = typed.text("address", 120)
    return (
        lambda: customers.choose_channel(
            caller.job.site.customer_id, channel=channel, address=address, at=caller.at
        ),
        "channel",
    )


def _stop(request: HttpRequest, caller: Caller, typed: Typed) -> Handled:
    return (
        lambda: customers.opt_out(
            caller.job.site.customer_id, channel=None, by="homeowner's page", at=caller.at
        ),
        "stop",
    )


def _photo(request: HttpRequest, caller: Caller, typed: Typed) -> Handled:
    upload = request.FILES.get("photo")
    if not isinstance(upload, UploadedFile) or upload.file is None or caller.install is None:
        typed.fail("photo", "e_photo")
        return None, "photo"
    install = caller.install
    try:
        picture = photos.read_picture(upload.file, upload.size or 0, caller.job.site.time_zone)
    except PictureError:
        typed.fail("photo", "e_photo")
        return None, "photo"
    return lambda: photos.add_photo(install.pk, picture=picture, source="homeowner"), "photo"


HANDLERS: dict[str, Callable[[HttpRequest, Caller, Typed], Handled]] = {
    "care": _care,
    "readings": _readings,
    "visit": _visit,
    "channel": _channel,
    "stop": _stop,
    "photo": _photo,
}
