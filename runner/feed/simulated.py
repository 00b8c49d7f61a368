"""The simulated flight as a source: a program of its own that sends to a port of this machine."""

from __future__ import annotations

import asyncio
import contextlib
import re
import sys
from dataclasses import replace

from runner.errors import RunnerError
from runner.feed.address import Address
from runner.feed.intake import Intake
from runner.feed.sockets import Udp, cancelled

END_SECONDS = 2.0
"""The program may take so long to end when it is asked to."""

_OPTION = re.compile(r"[a-z]+(?:-[a-z]+)*")


class SimulatedFlight:
    """Starts ``python -m runner.simulation`` and listens to it. ``ended`` is set at its end.

    ``sim?fail-engine=3@V1&reject`` gives it the options ``--fail-engine 3@V1 --reject``.
    """

    def __init__(self, address: Address, intake: Intake) -> None:
        self.ended = asyncio.Event()
        self._arguments = _arguments(address)
        self._udp = Udp(replace(address, kind="udp", host="127.0.0.1", port=0), intake)
        self._process: asyncio.subprocess.Process | None = None
        self._task: asyncio.Task[None] | None = None
        self._trouble = ""

    @property
    def port(self) -> int:
        """The port to which the flight sends."""
        return self._udp.port

    @property
    def trouble(self) -> str:
        """Why it sends nothing, in a line."""
        return self._trouble or self._udp.trouble

    async def start(self) -> None:
        """Listen, then start the flight."""
        await self._udp.start()
        try:
            self._process = await asyncio.create_subprocess_exec(
                sys.executable,
                "-m",
                "runner.simulation",
                "--port",
                str(self.port),
                *self._arguments,
                # Its end tells the flight that nobody listens any more, however that came.
                stdin=asyncio.subprocess.PIPE,
                stdout=asyncio.subprocess.DEVNULL,
                stderr=asyncio.subprocess.PIPE,
            )
        except OSError as error:
            await self._udp.stop()
            raise RunnerError(
                f"--feed sim: the simulated flight cannot be started: {error.strerror or error}"
            ) from None
        self._task = asyncio.create_task(self._watch(self._process))

    async def stop(self) -> None:
        """End the flight."""
        process = self._process
        if process is not None and process.returncode is None:
            with contextlib.suppress(ProcessLookupError):
                process.terminate()
            try:
                await asyncio.wait_for(process.wait(), END_SECONDS)
            except TimeoutError:
                with contextlib.suppress(ProcessLookupError):
                    process.kill()
                await process.wait()
        if self._task is not None:
            await cancelled(self._task)
        await self._udp.stop()

    async def _watch(self, process: asyncio.subprocess.Process) -> None:
        assert process.stderr is not None
        last = b""
        while piece := await process.stderr.read(4096):
            last = (last + piece)[-4096:]
        if await process.wait():
            lines = last.decode("utf-8", "replace").strip().splitlines()
            reason = lines[-1] if lines else f"it ended with status {process.returncode}"
            self._trouble = f"the simulated flight has ended: {reason}"
        self.ended.set()


def _arguments(address: Address) -> list[str]:
    arguments: list[str] = []
    for name, value in address.options.items():
        if not _OPTION.fullmatch(name) or name == "port" or value.startswith("-"):
            raise RunnerError(
                f"--feed sim: '{name}' is not an option; write sim?fail-engine=3@V1&reject"
            )
        arguments += [f"--{name}", value] if value else [f"--{name}"]
    return arguments
