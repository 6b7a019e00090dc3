"""Texts that come in, and news that an address does not work any more."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from contractor.api import events
from contractor.api.privacy import redact
from contractor.api.transactions import service
from contractor.engine.followup.opt_out import Reply, read_reply
from contractor.errors import NotFoundError
from jobs import locks
from jobs.models import Consent, Customer, TextReply
from jobs.models.customers import digits_of
from jobs.services import customers

M = TextReply.Meaning
MOST_SIGNS = 1600  # ten parts of a long text

# One text back, in the language of the word; the gateway sends it (47 CFR 64.1200(a)(12): one
# confirmation of an opt-out is allowed; from memory, confirm).
ANSWERS = {
    ("opt_out", "en"): "{company}: you will get no more texts from us. Reply START to begin again.",
    ("opt_out", "es"): "{company}: no recibirá más mensajes. Responda EMPEZAR para recibirlos.",
    ("opt_in", "en"): "{company}: reminders by text are on again. Reply STOP to end them.",
    ("opt_in", "es"): "{company}: recibirá otra vez recordatorios. Responda ALTO para terminar.",
    ("help", "en"): "{company}: reminders for your wall braces. Call {phone}. Reply STOP to end.",
    ("help", "es"): "{company}: recordatorios de sus soportes. Llame al {phone}. ALTO para salir.",
}


@dataclass(frozen=True)
class Taken:
    """What a text meant, how many customers have this number, and the answer to send, if any."""

    meaning: str
    customers: int
    answer: str


def receive(sender: str, text: str, *, reply_id: str, at: datetime) -> Taken:
    """Take in one text for every customer with this number; the same id twice is one text."""
    reply = read_reply(text[:MOST_SIGNS])
    digits = digits_of(sender)
    rows = Customer.objects.filter(phone_digits=digits) if len(digits) >= 7 else []
    keys = [customer.pk for customer in rows]
    for key in keys:
        keep_reply(key, reply, text=text[:MOST_SIGNS], reply_id=reply_id, at=at)
    customer = Customer.objects.filter(pk__in=keys[:1]).select_related("branch__company").first()
    return Taken(reply.meaning, len(keys), _answer(customer, reply) if customer else "")


def _answer(customer: Customer, reply: Reply) -> str:
    company = customer.branch.company
    phone = company.settings.get("phone") or company.name
    words = ANSWERS.get((reply.meaning, reply.language or customer.language), "")
    return words.format(company=company.name, phone=phone)


@service
def keep_reply(
    customer_pk: int, reply: Reply, *, text: str, reply_id: str, at: datetime
) -> TextReply:
    """Keep a text and do what it says: an opt-out holds from this commit on."""
    customer = locks.lock_customer(customer_pk)
    kept, is_new = TextReply.objects.get_or_create(
        customer=customer,
        reply_id=reply_id,
        defaults={
            "branch": customer.branch,
            "meaning": reply.meaning,
            "text": text,
            "received_at": at,
        },
    )
    if not is_new:
        return kept
    if kept.meaning == M.OPT_OUT:
        customers.take_back(customer, channel=Consent.Channel.TEXT, by="text reply", at=at)
    elif kept.meaning == M.OPT_IN:
        customers.grant(customer, channel=Consent.Channel.TEXT, source="text reply", at=at)
    if kept.meaning in {M.ASK_OFFICE, M.NONE}:
        events.record("reply.waiting", kept, branch=customer.branch, meaning=reply.meaning)
    return kept


@service
def handle_reply(
    reply_pk: int, *, is_opt_out: bool, at: datetime, if_match: int | None = None
) -> TextReply:
    """Somebody of the office has read it: messages go on, or (``is_opt_out``) end for good."""
    found = TextReply.objects.filter(pk=reply_pk).values_list("customer_id", flat=True).first()
    if found is None:
        raise NotFoundError(f"There is no reply {reply_pk}.")
    customer = locks.lock_customer(found)
    reply = TextReply.objects.select_for_update().get(pk=reply_pk)
    reply.expect_version(if_match)
    if is_opt_out:
        customers.take_back(customer, channel=Consent.Channel.TEXT, by="office, reply", at=at)
    reply.handled_at = at
    reply.save()
    events.record("reply.handled", reply, branch=reply.branch, is_opt_out=is_opt_out)
    return reply


def delivery_failed(channel: str, address: str, *, why: str) -> int:
    """An address bounced or a number failed: rest the channel of whoever has it; return how
    many."""
    if channel == Consent.Channel.EMAIL:
        rows = Customer.objects.filter(email__iexact=address.strip()).exclude(email="")
    else:
        rows = Customer.objects.filter(phone_digits=digits_of(address)).exclude(phone_digits="")
    keys = list(rows.order_by("pk").values_list("pk", flat=True))
    why = redact(why)  # mail servers quote the address
    return sum(customers.stop_channel(key, channel=channel, why=why) for key in keys)
