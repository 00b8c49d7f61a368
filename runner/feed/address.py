"""Where readings come from, as the pilot writes it: `udp://127.0.0.1:49000`, a file, `-`, `sim`."""

from __future__ import annotations

import ipaddress
import math
import socket
from dataclasses import dataclass
from pathlib import Path
from typing import Literal
from urllib.parse import parse_qsl, urlsplit

from runner.errors import RunnerError

Kind = Literal["udp", "tcp", "tcp-listen", "stdin", "file", "sim"]
SOCKETS: tuple[Kind, ...] = ("udp", "tcp", "tcp-listen")
SUFFIXES = (".jsonl", ".ndjson", ".json", ".csv", ".tsv", ".txt")
EXAMPLES = (
    "udp://127.0.0.1:49000, tcp://127.0.0.1:49000, tcp-listen://127.0.0.1:49000, "
    "- for standard input, a file of lines (.jsonl, .csv), or sim"
)


@dataclass(frozen=True, slots=True)
class Address:
    """A source. ``speed`` of a file is how many of its seconds are played in one; infinite
    for as fast as it can be read. ``options`` are those of the simulated flight."""

    kind: Kind
    host: str = ""
    port: int = 0
    path: str = ""
    speed: float = 1.0
    options: tuple[tuple[str, str], ...] = ()


def parse_address(url: str, *, anywhere: bool = False) -> Address:
    """The source that ``url`` names. Raises ``RunnerError``.

    A socket is of this machine alone (loopback), unless ``anywhere``.
    """
    if url == "-":
        return Address("stdin")
    scheme, mark, _ = url.partition("://")
    if mark:
        return _socket(url, scheme, anywhere)
    path, _, query = url.partition("?")
    if path == "sim":
        return Address("sim", options=tuple(parse_qsl(query, keep_blank_values=True)))
    if Path(url).is_file():
        return Address("file", path=url)
    if Path(path).is_file() or Path(path).suffix.lower() in SUFFIXES:
        return Address("file", path=path, speed=_speed(url, query))
    raise RunnerError(f"--feed {url}: there is no such file or source; write {EXAMPLES}")


def _socket(url: str, scheme: str, anywhere: bool) -> Address:
    kind = next((known for known in SOCKETS if known == scheme.lower()), None)
    if kind is None:
        raise RunnerError(f"--feed {url}: readings do not come by {scheme}; write {EXAMPLES}")
    try:
        parts = urlsplit(url)
        host, port = parts.hostname or "127.0.0.1", parts.port
    except ValueError:
        host, port = "", None
    # A trailing name or a query would be ignored without a word.
    if port is None or not host or parts.path.strip("/") or parts.query:
        raise RunnerError(f"--feed {url}: write host and port, as {scheme}://127.0.0.1:49000")
    if not anywhere and not is_loopback(host):
        raise RunnerError(
            f"--feed {url}: {host} is not this machine; readings from elsewhere are taken "
            "with --feed-open only"
        )
    return Address(kind, host, port)


def is_loopback(host: str) -> bool:
    """Whether a host is this machine and nothing else. No name is looked up anywhere."""
    if host.lower() == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def family_of(host: str) -> socket.AddressFamily:
    """IPv6 for an IPv6 address, else IPv4."""
    return socket.AF_INET6 if ":" in host else socket.AF_INET


def _speed(url: str, query: str) -> float:
    options = dict(parse_qsl(query, keep_blank_values=True))
    written = options.pop("speed", "1")
    try:
        speed = math.inf if written == "max" else float(written)
    except ValueError:
        speed = math.nan
    if options or not speed > 0:
        raise RunnerError(
            f"--feed {url}: after '?' stands speed=4 (four times as fast) or speed=max"
        )
    return speed
