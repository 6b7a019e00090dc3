"""The crew's forms: what they ask, and how what was typed becomes values."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from django.http import HttpRequest, QueryDict

from contractor.engine.units import format_length
from jobs.install_steps import JOB_STEPS, STEPS
from jobs.models import BraceRecord, InstallRecord
from jobs.pages.common import Typed
from jobs.pages.inputs import Form, Input
from jobs.pages.words import words_of
from jobs.services.zero_readings import unmeasured

LEFT: dict[str, str] = {
    "wrench": "torque wrench",
    "sheet": "instructions with the torque",
    "tape": "tape and marks for measuring",
}
TAPE_HINT = "Such as 7'-9 1/4\" or 2369 mm"


def step_words(steps: Sequence[str]) -> list[str]:
    return [STEPS[step] for step in steps]


def brace_form(brace: BraceRecord, today: date) -> Form:
    """Return the form of one brace with what is recorded already."""
    height, plumb = brace.measured_height_ticks, brace.out_of_plumb_ticks
    anchors = f"Planned: {brace.anchors_wanted}"
    inputs = [
        Input("height", "Measured height", _length(height), hint=TAPE_HINT),
        Input("torque", "Torque reached, ft-lb", _number(brace.torque_lbf_ft), mode="decimal"),
        Input("tool", "Wrench used", brace.tool),
        Input("anchors", "Anchors set", _number(brace.anchors_set), hint=anchors, mode="numeric"),
        Input("plumb", "Out of plumb", _length(plumb), hint='Such as 1/8" or 3 mm; 0" if plumb'),
        Input("label", "Date on the label", (brace.label_date or today).isoformat(), kind="date"),
    ]
    inputs[1].hint = f"Never above {brace.torque_limit_lbf_ft:g} ft-lb"
    if brace.needs_seal:
        inputs.append(Input("sealed", "Hole through the footing sealed", kind="checkbox"))
        inputs[-1].value = "yes" if brace.is_sealed else ""
    inputs.append(Input("note", "Note", brace.note, kind="textarea"))
    return Form(inputs + [_skip(brace, step, words) for step, words in STEPS.items()])


def _skip(brace: BraceRecord, step: str, words: str) -> Input:
    return Input(f"skip-{step}", words, str(brace.skipped.get(step, "")), autocomplete="off")


def _length(ticks: int | None) -> str:
    return "" if ticks is None else format_length(ticks, 64)


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:g}"


def read_brace(brace: BraceRecord, data: QueryDict) -> tuple[dict[str, Any], dict[str, str]]:
    """Return values for ``record_brace`` and what is wrong, by input."""
    typed = Typed(data, words_of("en"))
    values: dict[str, Any] = {
        "measured_height_ticks": typed.length("height"),
        "torque_lbf_ft": typed.torque("torque"),
        "tool": typed.text("tool", 80),
        "anchors_set": _whole(typed, "anchors"),
        "out_of_plumb_ticks": _abs(typed.length("plumb")),
        "label_date": typed.day("label", date.max) if typed.text("label") else None,
        "note": typed.text("note"),
        "skipped": {step: why for step in STEPS if (why := typed.text(f"skip-{step}", 200))},
    }
    if brace.needs_seal:
        values["is_sealed"] = typed.text("sealed") == "yes"
    if (values["measured_height_ticks"] or 1) < 1:
        typed.errors["height"] = typed.words["e_length"]
    torque = values["torque_lbf_ft"]
    if torque is not None and torque > brace.torque_limit_lbf_ft:
        typed.errors["torque"] = (
            f"Above the limit of {brace.torque_limit_lbf_ft:g} ft-lb. Loosen the bolt to the "
            "limit, look at joist and bracket, then record that."
        )
    return values, typed.errors


def _abs(ticks: int | None) -> int | None:
    return None if ticks is None else abs(ticks)


def _whole(typed: Typed, name: str) -> int | None:
    text = typed.text(name, 10)
    if not text:
        return None
    if not (text.isascii() and text.isdecimal() and int(text) <= 99):
        typed.errors[name] = "Write a whole number, such as 2."
        return None
    return int(text)


def close_form(install: InstallRecord) -> Form:
    """Return the sign-off; it asks for a reason while marks of the zero reading are open."""
    steps = [Input(f"step-{s}", words, kind="checkbox") for s, words in JOB_STEPS.items()]
    left = [Input(f"left-{s}", f"Left: {words}", kind="checkbox") for s, words in LEFT.items()]
    name = Input("signed", "Signed off by", install.signed_off_by, autocomplete="name")
    return Form([*steps, *left, *_open_marks(install), name])


def _open_marks(install: InstallRecord) -> list[Input]:
    count = len(unmeasured(install))
    hint = f"{count} of the marks are not measured"
    return [Input("no-zero", "Why is there no zero reading?", hint=hint)] if count else []


def read_close(request: HttpRequest, today: date) -> dict[str, Any]:
    data = request.POST
    return {
        "installed_on": today,
        "checklist": {step: data.get(f"step-{step}") == "yes" for step in JOB_STEPS},
        "left_with_homeowner": [words for s, words in LEFT.items() if data.get(f"left-{s}")],
        "no_zero_reading": data.get("no-zero", "").replace("\0", "").strip()[:200],
        "signed_off_by": data.get("signed", "").replace("\0", "").strip()[:120],
    }


def photo_form(braces: Sequence[BraceRecord]) -> Form:
    choices = (("", "the wall"), *((str(b.pk), f"{b.mark}, {b.wall}") for b in braces))
    hint = "JPEG, PNG or WebP, up to 10 MB. The place where it was taken is removed."
    return Form(
        [
            Input("photo", "Photo", kind="file", hint=hint),
            Input("brace", "What does it show?", kind="select", choices=choices),
        ]
    )
