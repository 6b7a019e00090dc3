"""Opt-out words of 47 CFR 64.1200(a)(10) (text in force since 2025-04-11) and common practice."""

from __future__ import annotations

import pytest

from contractor.engine.followup.opt_out import read_reply

# "the words 'stop,' 'quit,' 'end,' 'revoke,' 'opt out,' 'cancel,' or 'unsubscribe' ...
# constitutes a reasonable means per se to revoke consent" (64.1200(a)(10)).
RULE_WORDS = ["stop", "quit", "end", "revoke", "opt out", "cancel", "unsubscribe"]


@pytest.mark.parametrize("word", RULE_WORDS)
@pytest.mark.parametrize("form", ["{}", "{}.", "  {}!! ", "Please {}", "{} all messages", "“{}”"])
@pytest.mark.parametrize("case", [str.lower, str.upper, str.title])
def test_each_word_of_the_rule_opts_out(word: str, form: str, case: object) -> None:
    assert callable(case)
    reply = read_reply(form.format(case(word)))
    assert (reply.meaning, reply.phrase, reply.language) == ("opt_out", word, "en")


@pytest.mark.parametrize(
    ("text", "phrase", "language"),
    [
        ("Opt-Out", "opt out", "en"),
        ("optout", "optout", "en"),
        ("STOPALL", "stopall", "en"),
        ("Stop texting me please", "stop", "en"),
        ("don't text me", "dont text", "en"),
        ("Don’t contact me", "dont contact", "en"),
        ("No more messages, thanks", "no more", "en"),
        ("BASTA", "basta", "es"),
        ("Alto, por favor", "alto", "es"),
        ("No más mensajes", "no mas", "es"),
        ("Quiero darme de baja", "darme de baja", "es"),
        ("I don't want these messages", "dont want", "en"),
        ("Ya no quiero mensajes", "no quiero", "es"),
        ("¡Cancelar!", "cancelar", "es"),
        ("dejen de enviarme mensajes", "dejen de", "es"),
        ("ＳＴＯＰ", "stop", "en"),
    ],
)
def test_further_words_are_common_practice(text: str, phrase: str, language: str) -> None:
    reply = read_reply(text)
    assert (reply.meaning, reply.phrase, reply.language) == ("opt_out", phrase, language)


@pytest.mark.parametrize(
    "text",
    [
        "Please cancel my visit on Monday",
        "I can't stop the wall from moving",
        "the end of the beam is loose",
        "don't stop",
        "¿Puede cancelar la visita del martes?",
    ],
)
def test_a_longer_text_with_such_a_word_goes_to_a_person(text: str) -> None:
    assert read_reply(text).meaning == "ask_office"


@pytest.mark.parametrize(
    ("text", "meaning"),
    [
        ("START", "opt_in"),
        ("unstop", "opt_in"),
        ("Empezar", "opt_in"),
        ("help", "help"),
        ("AYUDA?", "help"),
        ("done, 48 ft lb", "none"),
        ("start of the crack is longer", "none"),
        ("nonstop weekend", "none"),
        ("stopped", "none"),
        ("", "none"),
        ("👍", "none"),
    ],
)
def test_other_replies(text: str, meaning: str) -> None:
    assert read_reply(text).meaning == meaning
