"""Send one request to a checked address: no proxy, no redirect, one deadline for all of it."""

from __future__ import annotations

import http.client
import socket
import ssl
import threading
import time
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass

from contractor.api.webhooks.addresses import (
    ForbiddenAddressError,
    Resolve,
    Target,
    checked_addresses,
    read_target,
    resolve,
)
from contractor.engine.errors import InputError

TIMEOUT_S = 15.0
TRIED_ADDRESSES = 2


@dataclass(frozen=True)
class Answer:
    """``outcome`` is "ok", "http_500", "redirect", "timeout", "no_connection", "tls", ..."""

    outcome: str
    http_status: int | None = None
    retry_after_s: int | None = None
    duration_ms: int = 0

    @property
    def is_success(self) -> bool:
        return self.outcome == "ok"


def post(
    url: str,
    body: bytes,
    headers: Mapping[str, str],
    *,
    timeout_s: float = TIMEOUT_S,
    look_up: Resolve = resolve,
) -> Answer:
    """POST ``body``; every failure is an ``Answer``, none is raised."""
    started = time.monotonic()
    answer = _post(url, body, headers, timeout_s, look_up)
    spent = int((time.monotonic() - started) * 1000)
    return Answer(answer.outcome, answer.http_status, answer.retry_after_s, spent)


def _post(
    url: str, body: bytes, headers: Mapping[str, str], timeout_s: float, look_up: Resolve
) -> Answer:
    try:
        target = read_target(url)
        addresses = checked_addresses(target, look_up)
    except (InputError, ForbiddenAddressError, ValueError):
        return Answer("forbidden_address")
    except OSError:
        return Answer("unknown_host")
    deadline = time.monotonic() + timeout_s
    try:
        connection = _connect(target, addresses, deadline)
    except ssl.SSLError:
        return Answer("tls")
    except TimeoutError:
        return Answer("timeout")
    except OSError:
        return Answer("no_connection")
    return _exchange(connection, target, body, headers, deadline)


def _connect(target: Target, addresses: list[str], deadline: float) -> socket.socket:
    """Return an open (TLS) connection to the first address that answers."""
    failure: OSError = OSError("no address")
    for address in addresses[:TRIED_ADDRESSES]:
        left = deadline - time.monotonic()
        if left <= 0:
            raise TimeoutError
        try:
            plain = socket.create_connection((address, target.port), timeout=left)
        except OSError as error:
            failure = error
            continue
        return _secured(plain, target) if target.is_https else plain
    raise failure


def _secured(plain: socket.socket, target: Target) -> socket.socket:
    try:
        return ssl.create_default_context().wrap_socket(plain, server_hostname=target.host)
    except OSError:
        plain.close()
        raise


def _exchange(
    connected: socket.socket,
    target: Target,
    body: bytes,
    headers: Mapping[str, str],
    deadline: float,
) -> Answer:
    """Send and read status and headers. A timer cuts the line: a receiver may drip for ever."""
    cut = threading.Event()

    def hang_up() -> None:
        cut.set()
        with suppress(OSError):
            connected.shutdown(socket.SHUT_RDWR)

    timer = threading.Timer(max(0.0, deadline - time.monotonic()), hang_up)
    timer.daemon = True
    timer.start()
    client = http.client.HTTPConnection(target.host, target.port)
    client.sock = connected
    try:
        client.putrequest("POST", target.path, skip_host=True, skip_accept_encoding=True)
        for name, value in {"Host": target.host_header, **headers}.items():
            client.putheader(name, value)
        client.putheader("Content-Length", str(len(body)))
        client.putheader("Connection", "close")
        client.endheaders(body)
        return _judged(client.getresponse())
    except TimeoutError:
        return Answer("timeout")
    except (OSError, http.client.HTTPException):
        return Answer("timeout" if cut.is_set() else "broken_answer")
    finally:
        timer.cancel()
        client.close()


def _judged(response: http.client.HTTPResponse) -> Answer:
    status = response.status
    if 200 <= status < 300:
        return Answer("ok", status)
    if 300 <= status < 400:
        return Answer("redirect", status)
    text = response.headers.get("Retry-After", "")
    wait = int(text) if text.isascii() and text.isdigit() and len(text) <= 6 else None
    return Answer(f"http_{status}", status, wait)
