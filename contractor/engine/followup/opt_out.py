"""What a homeowner's text reply means: stop, start again, help, or something a person reads.

47 CFR 64.1200(a)(10): "stop", "quit", "end", "revoke", "opt out", "cancel" and "unsubscribe"
are by themselves a revocation of consent; other words count where a reasonable person would
understand them so. The further words, Spanish, START and HELP are common practice.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from typing import Literal

Meaning = Literal["opt_out", "opt_in", "help", "ask_office", "none"]
Language = Literal["en", "es"]

RULE_WORDS = "stop, quit, end, revoke, opt out, cancel, unsubscribe"
ENGLISH = """
optout, stopall, remove me, leave me alone, no more, do not text, do not contact,
do not message, do not want, dont text, dont contact, dont message, dont want
"""
SPANISH = """
alto, basta, parar, pare, paren, para, detener, detenga, terminar, termine, fin, salir, quitar,
baja, dar de baja, darme de baja, darse de baja, deme de baja, cancelar, cancele, cancela,
revocar, revoco, no mas, no quiero, dejen de, deje de, no me escriban, no me envien
"""
# Words that change nothing: "please stop all texts now" is still only "stop".
FILLER_WORDS = """
please pls thanks thank you now all me my this these it the to from of texts text texting
message messages messaging msgs sms email emails reminder reminders sending contacting
immediately and i want would like
por favor gracias ya todo todos los las el la de enviar enviarme mandar mandarme escribir
escribirme mensaje mensajes textos correo correos recordatorio recordatorios quiero y ahora
"""
FILLERS = frozenset(FILLER_WORDS.split())


def _phrases(text: str, language: Language) -> dict[str, Language]:
    return dict.fromkeys((phrase.strip() for phrase in text.split(",")), language)


OPT_OUT = _phrases(RULE_WORDS, "en") | _phrases(ENGLISH, "en") | _phrases(SPANISH, "es")
OPT_IN = _phrases("start, unstop, resume", "en") | _phrases("empezar, iniciar, reanudar", "es")
HELP = _phrases("help, info", "en") | _phrases("ayuda", "es")


@dataclass(frozen=True)
class Reply:
    """What a reply means; ``phrase`` is what was recognised, ``language`` that of the phrase."""

    meaning: Meaning
    phrase: str | None = None
    language: Language | None = None


def read_reply(text: str) -> Reply:
    """Return what ``text`` means.

    Nothing but an opt-out phrase and words that change nothing is ``opt_out``. A longer text
    with such a phrase in it ("cancel my visit on Monday") is ``ask_office``: hold messages
    until a person has read it.
    """
    words = _words(text)
    opt_out, rest = _take(words, OPT_OUT)
    if opt_out is not None:
        is_plain = all(word in FILLERS for word in rest)
        return Reply("opt_out" if is_plain else "ask_office", opt_out, OPT_OUT[opt_out])
    joined = " ".join(words)
    if joined in OPT_IN:
        return Reply("opt_in", joined, OPT_IN[joined])
    if joined in HELP:
        return Reply("help", joined, HELP[joined])
    return Reply("none")


def _words(text: str) -> list[str]:
    """Return the words of ``text`` in lower case, without accents and apostrophes."""
    flat = unicodedata.normalize("NFKD", text.casefold())
    bare = "".join(char for char in flat if not unicodedata.combining(char) and char not in "'’")
    return re.findall(r"[^\W_]+", bare)


def _take(words: list[str], phrases: dict[str, Language]) -> tuple[str | None, list[str]]:
    """Return the first phrase found (longest wins at a place) and the words outside phrases."""
    found: str | None = None
    rest: list[str] = []
    place = 0
    while place < len(words):
        for length in (3, 2, 1):
            phrase = " ".join(words[place : place + length])
            if phrase in phrases and place + length <= len(words):
                found = found or phrase
                place += length
                break
        else:
            rest.append(words[place])
            place += 1
    return found, rest
