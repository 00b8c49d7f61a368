"""The simulated flight as a source: a program of its own that sends to a port of this machine,
or, where it flies as fast as it is listened to, into a pipe."""

from __future__ import annotations

import asyncio
import contextlib
import re
import sys
import time
from dataclasses import replace

from runner.errors import RunnerError
from runner.feed.address import Address
from runner.feed.intake import Intake
from runner.feed.lines import Lines
from runner.feed.playback import Settle
from runner.feed.sockets import Udp, cancelled

END_SECONDS = 2.0
"""The program may take so long to end when it is asked to."""

PIPE_BYTES = 4096
"""What a flight may be ahead of its listener: a few records, not a second of flight."""

_OPTION = re.compile(r"[a-z]+(?:-[a-z]+)*")


class SimulatedFlight:
    """Starts ``python -m runner.simulation`` and listens to it. ``ended`` is set at its end.

    ``sim?fail-engine=3@V1&reject`` gives it the options ``--fail-engine=3@V1 --reject``. In
    real time it sends datagrams, as any simulator does. ``stamped`` it flies as fast as its
    records are taken, and none is lost: it waits for ``settle`` after each.
    """

    def __init__(
        self, address: Address, intake: Intake, *, stamped: bool = False, settle: Settle | None
    ) -> None:
        self.ended = asyncio.Event()
        self._arguments = _arguments(address)
        self._intake = intake
        self._settle = settle
        self._udp: Udp | None = None
        if not stamped:
            self._udp = Udp(replace(address, kind="udp", host="127.0.0.1", port=0), intake)
        self._process: asyncio.subprocess.Process | None = None
        self._stopped = False
        self._task: asyncio.Task[None] | None = None
        self._trouble = ""

    @property
    def port(self) -> int:
        """The port to which the flight sends; 0 where it sends into a pipe."""
        return 0 if self._udp is None else self._udp.port

    @property
    def trouble(self) -> str:
        """Why it sends nothing, in a line."""
        return self._trouble or ("" if self._udp is None else self._udp.trouble)

    async def start(self) -> None:
        """Listen, then start the flight."""
        if self._udp is not None:
            await self._udp.start()
        how = ["--fast"] if self._udp is None else ["--port", str(self.port)]
        pipe = asyncio.subprocess.PIPE
        try:
            self._process = await asyncio.create_subprocess_exec(
                sys.executable,
                *("-m", "runner.simulation", *how, *self._arguments),
                # Its end tells the flight that nobody listens any more, however that came.
                stdin=pipe,
                stdout=pipe if self._udp is None else asyncio.subprocess.DEVNULL,
                stderr=pipe,
                limit=PIPE_BYTES,
            )
        except OSError as error:
            if self._udp is not None:
                await self._udp.stop()
            raise RunnerError(
                f"--feed sim: the simulated flight cannot be started: {error.strerror or error}"
            ) from None
        self._task = asyncio.create_task(self._watch(self._process))

    async def stop(self) -> None:
        """End the flight."""
        self._stopped = True
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
        if self._udp is not None:
            await self._udp.stop()

    def tell(self, name: str, value: float) -> None:
        """Tell the flight's autopilot a target, as a crew is told one: brake_release 1."""
        process = self._process
        if process is None or process.returncode is not None or process.stdin is None:
            return
        # A flight that has ended meanwhile needs no telling.
        with contextlib.suppress(OSError):
            process.stdin.write(f"{name} {value!r}\n".encode())

    async def _watch(self, process: asyncio.subprocess.Process) -> None:
        async with asyncio.TaskGroup() as group:
            said = group.create_task(_last_of(process.stderr))
            if process.stdout is not None:
                group.create_task(self._take(process.stdout))
        status = await process.wait()
        if status and not self._stopped:
            lines = said.result().decode("utf-8", "replace").strip().splitlines()
            reason = lines[-1] if lines else f"it ended with status {status}"
            self._trouble = f"the simulated flight has ended: {reason}"
        self.ended.set()

    async def _take(self, output: asyncio.StreamReader) -> None:
        _shorten_pipe(self._process)
        lines, decoder = Lines(), self._intake.map.decoder()
        while piece := await output.read(PIPE_BYTES):
            for line in lines.feed(piece):
                self._intake.receive([line], time.monotonic(), decoder)
                await (self._settle() if self._settle is not None else asyncio.sleep(0))


async def _last_of(stream: asyncio.StreamReader | None) -> bytes:
    last = b""
    while stream is not None and (piece := await stream.read(PIPE_BYTES)):
        last = (last + piece)[-PIPE_BYTES:]
    return last


def _shorten_pipe(process: asyncio.subprocess.Process | None) -> None:
    """Let little wait in the pipe: what the flight is told must not come a second late."""
    # Where the system has no such call the flight is merely further ahead.
    with contextlib.suppress(ImportError, AttributeError, OSError):
        import fcntl

        transport = getattr(process, "_transport", None)
        pipe = transport.get_pipe_transport(1).get_extra_info("pipe")  # type: ignore[union-attr]
        fcntl.fcntl(pipe.fileno(), fcntl.F_SETPIPE_SZ, PIPE_BYTES)


def _arguments(address: Address) -> list[str]:
    arguments: list[str] = []
    for name, value in address.options:
        if not _OPTION.fullmatch(name) or name in ("port", "host", "fast"):
            raise RunnerError(
                f"--feed sim: '{name}' is not an option; write sim?fail-engine=3@V1&reject"
            )
        arguments.append(f"--{name}={value}" if value else f"--{name}")
    return arguments
