"""Finding an open crew on the network by multicast DNS, and saying that there is one.

What is said there is the room, which is the public part of the code, and the port. What is
found there can be anybody's: only the code tells whether it is the crew meant.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import socket
from collections.abc import AsyncIterator

SERVICE = "_runner-crew._tcp.local."


@contextlib.asynccontextmanager
async def announced(
    room: str, port: int, addresses: list[str] | None = None
) -> AsyncIterator[None]:
    """Say, while it lasts, that a crew of this room is open at this port.

    ``addresses`` are this machine's, all of them where None. Where the network has no
    multicast this says nothing and the crew can be joined by address.
    """
    from zeroconf import Error, InterfaceChoice, IPVersion
    from zeroconf.asyncio import AsyncServiceInfo, AsyncZeroconf

    try:
        zeroconf = AsyncZeroconf(
            interfaces=addresses or InterfaceChoice.All, ip_version=IPVersion.V4Only
        )
    except OSError:
        yield
        return
    info = AsyncServiceInfo(
        SERVICE,
        f"{room}-{os.urandom(4).hex()}.{SERVICE}",
        port=port,
        parsed_addresses=addresses or own_addresses(),
        properties={"v": "1", "room": room},
        server=f"runner-{os.urandom(6).hex()}.local.",
    )
    try:
        with contextlib.suppress(Error, OSError):
            await zeroconf.async_register_service(info)
        yield
    finally:
        with contextlib.suppress(Error, OSError):
            # Twice: what is awaited first only begins to say goodbye.
            await (await zeroconf.async_unregister_service(info))
        await zeroconf.async_close()


async def find(
    room: str, seconds: float = 5.0, interfaces: list[str] | None = None
) -> list[tuple[str, int]]:
    """Addresses and ports at which a crew of this room is said to be open, at most 8.

    Gives what has been found as soon as there is one, an empty list after ``seconds``.
    """
    from zeroconf import InterfaceChoice, IPVersion, ServiceStateChange, Zeroconf
    from zeroconf.asyncio import AsyncServiceBrowser, AsyncServiceInfo, AsyncZeroconf

    found: asyncio.Queue[str] = asyncio.Queue(32)

    def changed(
        zeroconf: Zeroconf,  # noqa: ARG001
        service_type: str,  # noqa: ARG001
        name: str,
        state_change: ServiceStateChange,
    ) -> None:
        if state_change is ServiceStateChange.Added and name.startswith(f"{room}-"):
            with contextlib.suppress(asyncio.QueueFull):
                found.put_nowait(name)

    try:
        zeroconf = AsyncZeroconf(
            interfaces=interfaces or InterfaceChoice.All, ip_version=IPVersion.V4Only
        )
    except OSError:
        return []
    addresses: list[tuple[str, int]] = []
    browser = AsyncServiceBrowser(zeroconf.zeroconf, SERVICE, handlers=[changed])
    try:
        async with asyncio.timeout(seconds):
            while not addresses:
                info = AsyncServiceInfo(SERVICE, await found.get())
                if await info.async_request(zeroconf.zeroconf, 2000) and info.port:
                    addresses += [(one, info.port) for one in info.parsed_addresses()[:8]]
    except TimeoutError:
        pass
    finally:
        await browser.async_cancel()
        await zeroconf.async_close()
    return addresses


def own_addresses() -> list[str]:
    """This machine's IPv4 addresses on its networks, or the loopback one."""
    import ifaddr

    found = [
        str(ip.ip)
        for adapter in ifaddr.get_adapters()
        for ip in adapter.ips
        if ip.is_IPv4 and not str(ip.ip).startswith("127.")
    ]
    return found or [socket.gethostbyname("localhost")]
