"""The reference in a browser: it shows the operations, and asks nobody but this site."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlsplit

import pytest

from tests.jobs import looking


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_the_reference_asks_this_site_only(live_server: Any) -> None:
    asked: list[str] = []
    with looking.browser() as running:
        page = running.new_page()
        page.set_default_timeout(looking.PATIENCE_MS)
        page.on("request", lambda request: asked.append(request.url))
        page.goto(f"{live_server.url}/api/v1/docs")
        page.locator("#operations-tag-jobs").click()
        page.locator("#operations-jobs-jobs_document_retrieve").wait_for()
        assert page.locator(".opblock-tag").count() > 40
    places = {f"{part.scheme}://{part.netloc}" for part in map(urlsplit, asked)} - {"data://"}
    assert places == {live_server.url}
    assert len(asked) >= 4
