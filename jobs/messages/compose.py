"""A reminder in the homeowner's language: subject, plain text and HTML from templates."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.conf import settings
from django.core import signing
from django.template import Context, Engine
from django.template.loader import render_to_string

from jobs.messages.gateways import Message
from jobs.models import Reminder

UNSUBSCRIBE_SALT = "unsubscribe"
LANGUAGES = ("en", "es")
KINDS = ("re_tightening", "extra_reading")
# What a preview shows in place of a homeowner.
SAMPLE: dict[str, Any] = {
    "name": "R. Alder",
    "company": "Plumb Line Basements",
    "site": "12 Alder Lane",
    "due_on": date(2026, 4, 2),
    "brace_count": 4,
    "torque_lbf_ft": 50.0,
    "page": "https://tautline.example.org/h/link-to-the-page",
    "unsubscribe": "https://tautline.example.org/u/link-to-unsubscribe",
}


@dataclass(frozen=True)
class Words:
    """One message before it is addressed; ``sms`` is the text for a phone."""

    subject: str
    text: str
    html: str
    sms: str


def words(kind: str, language: str, facts: dict[str, Any]) -> Words:
    """Fill the templates of one kind and language (see KINDS, LANGUAGES, SAMPLE)."""
    name = f"messages/{kind}.{language}"
    return Words(
        subject=" ".join(_plain(f"{name}.subject", facts).split()),
        text=_plain(f"{name}.txt", facts),
        html=render_to_string(f"{name}.html", facts),
        sms=_plain(f"{name}.sms", facts).strip(),
    )


def _plain(template: str, facts: dict[str, Any]) -> str:
    """Fill a template of plain text: O'Brien stays O'Brien."""
    return Engine.get_default().get_template(template).render(Context(facts, autoescape=False))


def unsubscribe_token(customer_pk: int, channel: str) -> str:
    """Return the token of the unsubscribe address: this recipient, this channel, nothing else."""
    return signing.dumps({"customer": customer_pk, "channel": channel}, salt=UNSUBSCRIBE_SALT)


def read_unsubscribe_token(token: str) -> tuple[int, str]:
    """Return (customer pk, channel). Raises django.core.signing.BadSignature."""
    value = signing.loads(token, salt=UNSUBSCRIBE_SALT)
    return int(value["customer"]), str(value["channel"])


def compose(reminder: Reminder, token: str) -> Message:
    """Return the message of a claimed reminder; ``token`` opens the homeowner's page."""
    customer = reminder.job.site.customer
    language = customer.language if customer.language in LANGUAGES else "en"
    unsubscribe = f"{settings.SITE_URL}/u/{unsubscribe_token(customer.pk, reminder.channel)}"
    filled = words(reminder.kind, language, _facts(reminder, token, unsubscribe))
    return Message(
        message_id=reminder.message_id,
        channel=reminder.channel,
        to=customer.email if reminder.channel == "email" else customer.phone,
        subject=filled.subject,
        text=filled.sms if reminder.channel == "text" else filled.text,
        html=filled.html,
        headers={
            "List-Unsubscribe": f"<{unsubscribe}>",
            "List-Unsubscribe-Post": "List-Unsubscribe=One-Click",
        },
    )


def _facts(reminder: Reminder, token: str, unsubscribe: str) -> dict[str, Any]:
    job = reminder.job
    braces = [brace for brace in job.install.braces.all() if brace.torque_lbf_ft is not None]
    return {
        "name": job.site.customer.name,
        "company": job.branch.company.name,
        "site": job.site.label,
        "due_on": reminder.due_on,
        "brace_count": job.brace_count,
        "torque_lbf_ft": min((brace.torque_lbf_ft or 0 for brace in braces), default=None),
        "page": f"{settings.SITE_URL}/h/{token}",
        "unsubscribe": unsubscribe,
    }
