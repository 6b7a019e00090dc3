"""What the integration guide shows works as shown, and what it promises is what the code holds."""

from __future__ import annotations

import json
import re
import shlex
from io import StringIO
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import CommandError, call_command

import contractor.api
from contractor.api import company_settings, idempotency, paging
from contractor.api.calculations import CALCULATIONS
from contractor.api.models import Branch, User
from contractor.api.webhooks import retrying, sender
from tests.conftest import ApiTester

GUIDE = (Path(contractor.api.__file__).parent / "guide.md").read_text("utf-8")


def curls() -> list[list[str]]:
    joined = GUIDE.replace("\\\n", " ")
    return [shlex.split(line) for line in re.findall(r"^    (curl .+)$", joined, re.M)]


def shown_list() -> str:
    """Return the file that the guide shows below its import."""
    found = re.search(r"`customers.csv` is\n\n((?:    .+\n)+)", GUIDE)
    assert found
    return found[1].replace("    ", "")


def test_the_changelog_ends_at_the_version_of_the_reference() -> None:
    assert (
        re.findall(r"^- \*\*([0-9.]+)\*\*", GUIDE, re.M)[0]
        == settings.SPECTACULAR_SETTINGS["VERSION"]
    )


def test_the_guide_is_served(anonymous: ApiTester) -> None:
    answer = anonymous.get("/api/v1/guide")
    assert answer["Content-Type"] == "text/markdown; charset=utf-8"
    assert answer.content.decode() == GUIDE


def test_every_curl_of_the_guide_works(
    users: dict[str, User], branch: Branch, settings: Any
) -> None:
    out = StringIO()
    call_command("token", users["owner"].username, scope=["*:write"], stdout=out)
    secret, client = out.getvalue().strip(), ApiTester()
    assert len(curls()) >= 7
    told: list[Any] = []
    for words in curls():
        text = " ".join(words)
        url = re.search(r"\$SITE(\S+)", text)
        given = [word.split(": ") for before, word in pairwise(words) if before == "-H"]
        headers: Any = {
            "HTTP_" + name.upper().replace("-", "_"): value.replace("$TOKEN", secret)
            for name, value in given
            if name != "Content-Type"
        }
        assert url
        if "-F" in words:
            upload = SimpleUploadedFile("customers.csv", shown_list().encode())
            form = {"file": upload, "place": branch.pk}
            answer = client.post(url[1], form, format="multipart", **headers)
        elif "-X POST" in text:
            body = words[words.index("-d") + 1]
            for name, key in (("company", branch.company_id), ("branch", branch.pk)):
                body = body.replace(f'"{name}": 1,', f'"{name}": {key},')
            answer = client.generic(
                "POST", url[1], body, content_type="application/json", **headers
            )
        else:
            answer = client.get(url[1], **headers)
        told.append(answer)
        assert answer.status_code in (200, 201), (text, answer.getvalue())
    assert [row["fate"] for row in told[-1].json()["rows"]] == ["changed", "created"]


def test_its_numbers_are_the_codes() -> None:
    hours = int(idempotency.KEPT.total_seconds() // 3600)
    assert f"Keys are kept {hours} hours" in GUIDE
    assert f"{paging.DEFAULT_LIMIT} by default, {paging.MAX_LIMIT} at most" in GUIDE
    assert f"within {sender.TIMEOUT_S:.0f} seconds" in GUIDE
    assert "{" + ",".join(CALCULATIONS) + "}" in GUIDE
    told = re.search(r"\(after ([^)]+)\)", GUIDE)
    assert told
    unit = {"s": 1, "min": 60, "h": 3600}
    waits = [int(n) * unit[u] for n, u in re.findall(r"(\d+)\s(s|min|h)\b", told[1])]
    assert waits == [int(wait.total_seconds()) for wait in retrying.WAITS]


def test_every_setting_that_is_checked_is_told_and_its_example_is_taken() -> None:
    rows = re.findall(r"^\| (`[^|]+`) \| (.+) \|$", GUIDE, re.M)
    told = {name: text for names, text in rows for name in re.findall(r"`(\w+)`", names)}
    every = dict(company_settings.checks_for({name: {} for name in told}))
    assert every.keys() == told.keys() == company_settings.names()
    shown = {name: re.search(r"`(\{.+\})`", text) for name, text in told.items()}
    examples = {name: json.loads(found[1]) for name, found in shown.items() if found}
    assert examples.keys() >= {"tightening", "sending", "retention", "cutting"}
    for name, example in examples.items():
        every[name](example)


def test_a_token_for_nobody(db: None) -> None:
    with pytest.raises(CommandError, match="no account"):
        call_command("token", "nobody")
