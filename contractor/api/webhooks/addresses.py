"""Which addresses a webhook may reach: public ones only, checked after the look-up.

The name is looked up once per attempt; if any of its addresses is not public the attempt is
refused; the connection goes to an address that was checked, so a name that changes between
two look-ups gains nothing. An operator may allow hosts by name (WEBHOOK_ALLOWED_HOSTS).
"""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from urllib.parse import urlsplit

from django.conf import settings

from contractor.engine.errors import InputError

Address = ipaddress.IPv4Address | ipaddress.IPv6Address
Resolve = Callable[[str, int], Sequence[str]]
_GLOBAL_UNICAST = ipaddress.ip_network("2000::/3")  # RFC 4291; NAT64 prefixes lie outside it


class ForbiddenAddressError(Exception):
    """The name leads to an address that webhooks must not reach."""


@dataclass(frozen=True)
class Target:
    """A checked URL; ``is_allowed`` when the operator has named the host."""

    is_https: bool
    host: str
    port: int
    path: str
    is_allowed: bool

    @property
    def host_header(self) -> str:
        name = f"[{self.host}]" if ":" in self.host else self.host
        return name if self.port == (443 if self.is_https else 80) else f"{name}:{self.port}"


def read_target(url: str, pointer: str = "/url") -> Target:
    """Return the parts of ``url``. Raises InputError for what must not be called."""
    try:
        parts = urlsplit(url)
        port, host = parts.port, (parts.hostname or "").rstrip(".")
    except ValueError as error:
        raise _refuse(pointer, "The address is not a URL.", "Write https://host/path.") from error
    if not host or any(mark <= " " or mark > "~" for mark in url):
        raise _refuse(pointer, "The address is not an ASCII URL with a host.", "Check it.")
    if parts.username is not None or parts.password is not None or parts.fragment:
        raise _refuse(pointer, "The address holds a user name or a fragment.", "Leave it out.")
    is_https = parts.scheme == "https"
    port = port or (443 if is_https else 80)
    target = Target(
        is_https=is_https,
        host=host,
        port=port,
        path=(parts.path or "/") + (f"?{parts.query}" if parts.query else ""),
        is_allowed=host in _allowed() or f"{host}:{port}" in _allowed(),
    )
    _check_shape(target, parts.scheme, pointer)
    return target


def _allowed() -> set[str]:
    return {name.strip().lower() for name in settings.WEBHOOK_ALLOWED_HOSTS}


def _check_shape(target: Target, scheme: str, pointer: str) -> None:
    if scheme not in ("http", "https"):
        raise _refuse(pointer, "The address is no https URL.", "Write https://host/path.")
    if target.is_allowed:
        return
    if not target.is_https or target.port != 443:
        raise _refuse(pointer, "Only https on port 443 is called.", "Write https://host/path.")
    literal = _literal(target.host)
    if literal is not None and not is_public(literal):
        raise _refuse(
            pointer,
            "The address is not on the public internet.",
            "Give a public host, or have the operator add it to WEBHOOK_ALLOWED_HOSTS.",
        )


def _refuse(pointer: str, reason: str, remedy: str) -> InputError:
    return InputError("webhook_url_refused", pointer, reason, remedy)


def _literal(host: str) -> Address | None:
    try:
        return ipaddress.ip_address(host)
    except ValueError:
        return None


def is_public(address: Address) -> bool:
    """Return whether ``address`` is global unicast, looking inside addresses that carry another.

    >>> is_public(ipaddress.ip_address("::ffff:10.0.0.1"))
    False
    """
    if isinstance(address, ipaddress.IPv6Address):
        inner = _carried(address)
        if inner is not None:
            return is_public(inner)
        if address.scope_id or address not in _GLOBAL_UNICAST:
            return False
    return address.is_global and not address.is_multicast and not address.is_reserved


def _carried(address: ipaddress.IPv6Address) -> Address | None:
    """Return the IPv4 address inside a mapped, 6to4 or Teredo address."""
    if address.ipv4_mapped is not None:
        return address.ipv4_mapped
    if address.sixtofour is not None:
        return address.sixtofour
    return address.teredo[1] if address.teredo is not None else None


def resolve(host: str, port: int) -> list[str]:
    """Look ``host`` up once. Raises OSError when there is no such name."""
    found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    return list(dict.fromkeys(str(entry[4][0]) for entry in found))


def checked_addresses(target: Target, look_up: Resolve = resolve) -> list[str]:
    """Return the addresses to connect to. Raises ForbiddenAddressError, OSError."""
    found = list(look_up(target.host, target.port))
    if not found:
        raise OSError("no address")
    if not target.is_allowed:
        for text in found:
            if not is_public(ipaddress.ip_address(text)):
                raise ForbiddenAddressError(target.host)
    return found
