"""The parts of ``Company.settings`` that jobs read, each with its check."""

from __future__ import annotations

from functools import partial

from contractor.api.company_settings import register_setting
from contractor.engine.errors import InputError
from contractor.engine.followup.policy import read_policy
from contractor.engine.followup.tightening import read_step_policy
from contractor.engine.materials.hardware import read_hardware
from contractor.engine.materials.rates import read_rates
from contractor.engine.survey_field import Field
from contractor.engine.survey_rules import read_rules
from jobs.services import hours, privacy

LONGEST_PHONE = 40


def register() -> None:
    """Have every part looked at before it is saved."""
    register_setting("follow_up_policy", read_policy)
    register_setting("tightening", read_step_policy)
    register_setting("sending", hours.check_wishes)
    register_setting("retention", privacy.check_retention)
    register_setting("rates", partial(read_rates, pointer=""))
    register_setting("hardware", partial(read_hardware, pointer=""))
    register_setting("layout_rules", check_rules)
    register_setting("phone", check_phone)


def check_rules(document: object) -> None:
    """Raise InputError unless these are layout rules of a ``wall-survey/1``."""
    read_rules(Field(document, "", []))


def check_phone(text: object) -> None:
    """Raise InputError unless this is the number that homeowners call."""
    if not isinstance(text, str) or len(text) > LONGEST_PHONE or not text.isprintable():
        raise InputError(
            "not_text",
            "",
            f"The office's number is text of at most {LONGEST_PHONE} characters.",
            "Write it as homeowners should read it.",
        )
