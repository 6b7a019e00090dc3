"""What the homeowner's page says, in English and Spanish; both have the same keys."""

from __future__ import annotations

from jobs.pages.words.en import EN
from jobs.pages.words.es import ES

WORDS: dict[str, dict[str, str]] = {"en": EN, "es": ES}
NAMES = {"en": "English", "es": "Español"}


def words_of(language: str) -> dict[str, str]:
    return WORDS.get(language, EN)
