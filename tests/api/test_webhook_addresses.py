"""What a webhook may reach: IANA special-purpose registries, RFC 6890, 6052, 4291, 3056, 4380."""

from __future__ import annotations

import ipaddress
import socket
from typing import Any

import pytest

from contractor.api.webhooks import sender
from contractor.api.webhooks.addresses import is_public, read_target
from contractor.engine.errors import InputError
from tests.api.receivers import receiver

PRIVATE = [
    "127.0.0.1",
    "127.255.255.254",
    "0.0.0.0",
    "10.0.0.1",
    "172.16.0.1",
    "192.168.1.1",
    "169.254.169.254",
    "100.64.0.1",
    "192.0.2.1",
    "198.18.0.1",
    "224.0.0.1",
    "240.0.0.1",
    "255.255.255.255",
    "::",
    "::1",
    "::ffff:127.0.0.1",
    "::ffff:10.0.0.1",
    "::ffff:169.254.169.254",
    "::127.0.0.1",
    "64:ff9b::7f00:1",
    "64:ff9b::a00:1",
    "64:ff9b:1::a00:1",
    "2002:7f00:1::",
    "2002:a00:1::1",
    "2001:0:53aa:64c:0:fbff:f5ff:fffe",
    "fe80::1",
    "fe80::1%eth0",
    "fc00::1",
    "fd00::1",
    "fec0::1",
    "ff02::1",
    "2001:db8::1",
]
PUBLIC = ["8.8.8.8", "1.1.1.1", "2606:4700::1111", "::ffff:8.8.8.8"]


@pytest.mark.parametrize("text", PRIVATE)
def test_not_global_is_refused(text: str) -> None:
    assert not is_public(ipaddress.ip_address(text))


@pytest.mark.parametrize("text", PUBLIC)
def test_global_is_accepted(text: str) -> None:
    assert is_public(ipaddress.ip_address(text))


@pytest.mark.parametrize(
    "url",
    [
        "http://example.org/hook",
        "https://example.org:8443/hook",
        "https://127.0.0.1/hook",
        "https://[::1]/hook",
        "https://[::ffff:10.0.0.1]/hook",
        "https://169.254.169.254/latest/meta-data",
        "https://10.0.0.1/",
        "https://user:pw@example.org/",
        "https://user@example.org/",
        "https://example.org/#part",
        "ftp://example.org/",
        "https:///hook",
        "https://example.org:99999/",
        "https://exa mple.org/",
        "https://example.org/\r\nX-Evil: 1",
        "file:///etc/passwd",
        "gopher://127.0.0.1/",
        "",
    ],
)
def test_urls_that_are_never_called(url: str) -> None:
    with pytest.raises(InputError) as refused:
        read_target(url)
    assert refused.value.code == "webhook_url_refused"
    assert sender.post(url, b"{}", {}).outcome == "forbidden_address"


def test_an_operator_may_allow_a_host(settings: Any) -> None:
    settings.WEBHOOK_ALLOWED_HOSTS = ["hooks.internal", "127.0.0.1:9000"]
    assert read_target("http://hooks.internal:8080/x").port == 8080
    assert read_target("http://127.0.0.1:9000/x").is_allowed
    with pytest.raises(InputError):
        read_target("http://127.0.0.1:9001/x")


def spoof(monkeypatch: pytest.MonkeyPatch, *answers: list[str]) -> tuple[list[str], list[str]]:
    """Answer look-ups with ``answers`` in turn; return (names asked, addresses connected to)."""
    asked: list[str] = []
    reached: list[str] = []
    real = socket.create_connection

    def look_up(host: str, port: int, **_: Any) -> list[Any]:
        found = answers[min(len(asked), len(answers) - 1)]
        asked.append(host)
        return [(socket.AF_INET, socket.SOCK_STREAM, 6, "", (text, port)) for text in found]

    def connect(address: tuple[str, int], **kwargs: Any) -> socket.socket:
        reached.append(address[0])
        if address[0].startswith("127."):
            return real(address, **kwargs)
        raise ConnectionRefusedError("no network in tests")

    monkeypatch.setattr(socket, "getaddrinfo", look_up)
    monkeypatch.setattr(socket, "create_connection", connect)
    return asked, reached


@pytest.mark.parametrize(
    "address", ["127.0.0.1", "::1", "169.254.169.254", "10.0.0.1", "::ffff:127.0.0.1", "0.0.0.0"]
)
def test_a_name_that_leads_inside_is_not_connected_to(
    monkeypatch: pytest.MonkeyPatch, address: str
) -> None:
    asked, reached = spoof(monkeypatch, [address])
    assert sender.post("https://hooks.example.org/", b"{}", {}).outcome == "forbidden_address"
    assert (asked, reached) == (["hooks.example.org"], [])


def test_one_inner_address_among_public_ones_refuses_them_all(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    _, reached = spoof(monkeypatch, ["8.8.8.8", "10.0.0.1"])
    assert sender.post("https://hooks.example.org/", b"{}", {}).outcome == "forbidden_address"
    assert reached == []


def test_a_name_that_changes_between_two_look_ups_gains_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked, reached = spoof(monkeypatch, ["8.8.8.8"], ["127.0.0.1"])
    with receiver() as canary:
        url = "https://hooks.example.org/hook"
        assert sender.post(url, b"{}", {}).outcome == "no_connection"
        assert (asked, reached) == (["hooks.example.org"], ["8.8.8.8"])
        assert sender.post(url, b"{}", {}).outcome == "forbidden_address"
        assert reached == ["8.8.8.8"]
        assert canary.hits == []


def test_a_name_that_does_not_resolve_is_tried_again_later() -> None:
    def no_such_name(host: str, port: int) -> list[str]:
        raise socket.gaierror

    answer = sender.post("https://hooks.example.org/", b"{}", {}, look_up=no_such_name)
    assert answer.outcome == "unknown_host"
