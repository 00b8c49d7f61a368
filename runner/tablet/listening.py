"""Where the second screen listens, and under which address others find it."""

from __future__ import annotations

import contextlib
import socket

from runner.errors import RunnerError


def listen(host: str, port: int) -> socket.socket:
    """A socket that listens at ``host``; "" is every address, IPv4 and IPv6 alike.

    RunnerError where the address or the port cannot be had.
    """
    try:
        return _listen(host, port)
    except (OSError, OverflowError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise RunnerError(
            f"the second screen cannot be served at {host or 'every address'}, port {port} "
            f"({reason}); name another one"
        ) from error


def _listen(host: str, port: int) -> socket.socket:
    if host:
        family, _, _, _, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
        return socket.create_server(address[:2], family=family)
    if socket.has_dualstack_ipv6():
        # A kernel may know IPv6 and have none.
        with contextlib.suppress(OSError):
            return socket.create_server(("", port), family=socket.AF_INET6, dualstack_ipv6=True)
    return socket.create_server(("", port))


def network_address() -> str:
    """This machine's address on its network; nothing is sent to find it."""
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        # Of the addresses kept for documentation (RFC 5737), so never anybody's.
        probe.connect(("192.0.2.1", 9))
        return str(probe.getsockname()[0])
    return "127.0.0.1"
