"""Who may ask the server for anything: the names it answers to, and what a page may do.

A page of a stranger that the browser also has open must neither read the run nor press its
keys. It cannot lead the browser here under a name of its own, because only names that are
this machine's are answered to; and it cannot open the link, because a browser tells which
page asks and only our own may.
"""

from __future__ import annotations

import ipaddress
import re
import socket
from collections.abc import Iterable

_HOST = re.compile(
    r"(?P<name>\[[0-9a-f:.]+\]|[a-z0-9](?:[a-z0-9.-]{0,251}[a-z0-9])?)(?::[0-9]{1,5})?"
)

LOOPBACK = frozenset({"localhost", "127.0.0.1", "::1"})


def plain_address(address: str) -> str:
    """An address as it is written in a link; IPv4 that came over IPv6 as IPv4."""
    try:
        found = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return address
    if isinstance(found, ipaddress.IPv6Address) and found.ipv4_mapped is not None:
        return str(found.ipv4_mapped)
    return str(found)


def own_names() -> frozenset[str]:
    """The names of this machine on its network, as others may know it."""
    name = socket.gethostname().lower().rstrip(".")
    return frozenset({name, f"{name.partition('.')[0]}.local"} if name else ())


def host_of(hosts: Iterable[str], names: Iterable[str]) -> str:
    """The host that was asked for, port and all, if it is one of ``names``; else nothing."""
    asked = [host.strip().lower() for host in hosts]
    found = _HOST.fullmatch(asked[0]) if len(asked) == 1 else None
    if found is None:
        return ""
    name = found["name"].strip("[]").rstrip(".")
    return asked[0] if plain_address(name) in {plain_address(one) for one in names} else ""


def same_page(origins: Iterable[str], host: str) -> bool:
    """Whether the page that asks came from ``host`` itself."""
    return [origin.strip().lower() for origin in origins] == [f"http://{host}"]


def headers(host: str) -> dict[str, str]:
    """What the browser is told about every answer; ``host`` is the one that was asked for.

    Older tablets do not take ``'self'`` for the link, so it is named too.
    """
    return {
        "Content-Security-Policy": (
            "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
            f"connect-src 'self' ws://{host}; base-uri 'none'; form-action 'none'; "
            "frame-ancestors 'none'; require-trusted-types-for 'script'"
        ),
        "X-Content-Type-Options": "nosniff",
        "X-Frame-Options": "DENY",
        "Referrer-Policy": "no-referrer",
        "Cross-Origin-Resource-Policy": "same-origin",
        "Cache-Control": "no-store",
    }
