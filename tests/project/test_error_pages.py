"""What people see when something is not there: our page, and what to do."""

from __future__ import annotations

import pytest
from django.test import Client, RequestFactory
from django.views.defaults import permission_denied, server_error


@pytest.mark.django_db
def test_a_page_that_is_not_here_says_so_in_both_languages(client: Client) -> None:
    answer = client.get("/no/such/page")
    page = answer.content.decode()
    assert answer.status_code == 404
    assert "This page is not here" in page
    assert 'lang="es"' in page


def test_the_bare_address_leads_to_the_crew_page(client: Client) -> None:
    assert client.get("/").headers["Location"] == "/crew"


def test_failures_say_that_nothing_may_have_been_kept() -> None:
    request = RequestFactory().get("/")
    page = server_error(request)
    assert (page.status_code, b"send it again" in page.content) == (500, True)
    refused = permission_denied(request, PermissionError())
    assert (refused.status_code, b"load the page again" in refused.content) == (403, True)
