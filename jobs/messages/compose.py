"""A reminder in the homeowner's language: subject, plain text and HTML from templates."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core import signing
from django.template.loader import render_to_string

from jobs.messages.gateways import Message
from jobs.models import Reminder

UNSUBSCRIBE_SALT = "unsubscribe"


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
    language = customer.language if customer.language in {"en", "es"} else "en"
    unsubscribe = f"{settings.SITE_URL}/u/{unsubscribe_token(customer.pk, reminder.channel)}"
    facts = _facts(reminder, token, unsubscribe)
    name = f"messages/{reminder.kind}.{language}"
    short = "sms" if reminder.channel == "text" else "txt"
    return Message(
        message_id=reminder.message_id,
        channel=reminder.channel,
        to=customer.email if reminder.channel == "email" else customer.phone,
        subject=" ".join(render_to_string(f"{name}.subject", facts).split()),
        text=render_to_string(f"{name}.{short}", facts),
        html=render_to_string(f"{name}.html", facts),
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
