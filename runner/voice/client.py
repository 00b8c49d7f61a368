"""Runner's side of the voice process: start it, tell it what to do, pass on what it reports."""

from __future__ import annotations

import asyncio
import contextlib
import sys
from collections import deque
from collections.abc import Callable, Sequence
from typing import Literal

from runner.engine.effects import Listen
from runner.engine.events import Proposal, Verdict
from runner.errors import RunnerError
from runner.voice.messages import (
    LINE_LIMIT,
    Message,
    from_line,
    listen_to_json,
    proposals_from_json,
    to_line,
    verdict_from_json,
)
from runner.voice.settings import VoiceSettings

RESTARTS = 1
"""How often a voice process that died is started again."""

Urgency = Literal["routine", "prompt", "urgent"]


def _nothing(*_: object) -> None:
    """What an unset callback does."""


class VoiceProcess:
    """The voice process as seen from an asyncio program.

    Set the callbacks, ``await start()``, then call the other methods from the event loop's
    thread; none of them waits. Every ``say`` is answered by exactly one ``on_said``, also when
    the voice process dies or there is nothing to play on (then with ``completed`` false).
    Times in ``on_heard`` are seconds of ``time.monotonic``.

    A device asked for by name that is not there makes ``wait_ready`` raise ``RunnerError``
    with status 3. Every other trouble with sound comes as one line to ``on_trouble``, and the
    program goes on without it.
    """

    def __init__(self, settings: VoiceSettings) -> None:
        self.settings = settings
        self.on_said: Callable[[int, bool], None] = _nothing
        self.on_heard: Callable[[int, float, float, tuple[Proposal, ...], Verdict], None] = _nothing
        self.on_level: Callable[[float, str], None] = _nothing
        self.on_trouble: Callable[[str], None] = _nothing
        self.on_ready: Callable[[dict[str, object]], None] = _nothing
        self.on_button: Callable[[str, bool], None] = _nothing
        self.on_input_ended: Callable[[], None] = _nothing
        self.on_speaking: Callable[[int], None] = _nothing
        self.heard_dbfs = -120.0
        """The loudest moment of what ``on_heard`` tells, in dB of full scale."""

        self.capabilities: dict[str, object] = {}
        self._process: asyncio.subprocess.Process | None = None
        self._reader: asyncio.Task[None] | None = None
        self._unsaid: list[int] = []
        self._listen: Listen | None = None
        self._muted = False
        self._talking = False
        self._restarts = 0
        self._stopping = False
        self._gone = False
        self._failure: RunnerError | None = None
        self._settled = asyncio.Event()
        self._words: deque[str] = deque(maxlen=20)

    async def start(self) -> None:
        """Start the process and return at once; it reports ``on_ready`` when it would hear."""
        await self._spawn()

    async def wait_ready(self, timeout: float = 20.0) -> dict[str, object]:
        """Wait until an answer would be heard; gives the capabilities.

        Raises ``RunnerError``: a device asked for by name is not there (status 3), or the
        settings name a file that cannot be used (status 2). Gives an empty mapping when the
        process could not be kept alive; that has then been told to ``on_trouble``.
        """
        with contextlib.suppress(TimeoutError):
            await asyncio.wait_for(self._settled.wait(), timeout)
        if self._failure is not None:
            raise self._failure
        return self.capabilities

    @property
    def pid(self) -> int | None:
        """The voice process's id, or None when it is not running."""
        return self._process.pid if self._process and self._process.returncode is None else None

    def prepare(self, speeches: Sequence[str]) -> None:
        """These are likely to be said next: synthesise them now."""
        self._send({"do": "prepare", "speeches": list(speeches)})

    def wake(self) -> None:
        """Start the playback device, so that the next sample is not late."""
        self._send({"do": "wake"})

    def say(self, utterance: int, speech: str, urgency: Urgency = "routine") -> None:
        """Speak; ``on_said`` comes when it has ended."""
        self._unsaid.append(utterance)
        if not self._send(
            {"do": "say", "utterance": utterance, "speech": speech, "urgency": urgency}
        ):
            self._lose_unsaid()

    def tone(self, name: str) -> None:
        """Sound a short tone over whatever is being spoken."""
        self._send({"do": "tone", "name": name})

    def hush(self) -> None:
        """Cut what is being spoken and forget what waits; each is reported as not completed."""
        self._send({"do": "hush"})

    def listen(self, listen: Listen) -> None:
        """Open a listening window; it closes every earlier one."""
        self._listen = listen
        self._send({"do": "listen", "listen": listen_to_json(listen)})

    def close(self, window: int) -> None:
        """Close a window: nothing heard in it counts any more."""
        if self._listen and self._listen.window == window:
            self._listen = None
        self._send({"do": "close", "window": window})

    def mute(self, muted: bool) -> None:
        """Shut the microphone, or open it again."""
        self._muted = muted
        self._send({"do": "mute", "muted": muted})

    def push_to_talk(self, pressed: bool) -> None:
        """Open the microphone for talking, or shut it; without push-to-talk it does nothing.

        Shutting it ends the utterance, which is judged at once.
        """
        self._talking = pressed
        self._send({"do": "talk", "pressed": pressed})

    async def stop(self) -> None:
        """End the process; what is being spoken is cut."""
        self._stopping = True
        process = self._process
        if process is not None:
            self._send({"do": "stop"})
            if process.stdin is not None:
                process.stdin.close()
            try:
                await asyncio.wait_for(process.wait(), 2.0)
            except TimeoutError:
                process.kill()
                await process.wait()
        if self._reader is not None:
            await self._reader

    async def _spawn(self) -> None:
        self._process = await asyncio.create_subprocess_exec(
            sys.executable,
            "-m",
            "runner.voice.process",
            stdin=asyncio.subprocess.PIPE,
            stdout=asyncio.subprocess.PIPE,
            stderr=asyncio.subprocess.PIPE,
            limit=LINE_LIMIT,
        )
        self._send({"do": "start", "settings": self.settings.to_json()})
        self._reader = asyncio.create_task(self._read(self._process))

    def _send(self, message: Message) -> bool:
        process = self._process
        if self._gone or process is None or process.stdin is None or process.stdin.is_closing():
            return False
        with contextlib.suppress(ConnectionError):
            process.stdin.write(to_line(message))
        return True

    async def _read(self, process: asyncio.subprocess.Process) -> None:
        assert process.stdout is not None and process.stderr is not None
        errors = asyncio.create_task(self._keep_words(process.stderr))
        while line := await process.stdout.readline():
            try:
                message = from_line(line)
            except ValueError:
                continue
            self._take(message)
        await process.wait()
        await errors
        self._process = None
        self._lose_unsaid()
        if not self._stopping and not self._gone and self._failure is None:
            await self._mend()
        if self._stopping or self._gone:
            self._settled.set()

    async def _keep_words(self, stream: asyncio.StreamReader) -> None:
        with contextlib.suppress(ValueError):
            while line := await stream.readline():
                self._words.append(line.decode(errors="replace").strip())

    async def _mend(self) -> None:
        cause = next((word for word in reversed(self._words) if word), "no reason given")
        if self._restarts >= RESTARTS:
            self._gone = True
            self._settled.set()
            self.on_trouble(f"the voice process stopped again ({cause}): going on with keys")
            return
        self._restarts += 1
        self.on_trouble(f"the voice process stopped ({cause}): starting it again")
        await self._spawn()
        if self._muted:
            self.mute(True)
        if self._talking:
            self.push_to_talk(True)
        if self._listen is not None:
            self.listen(self._listen)

    def _lose_unsaid(self) -> None:
        lost, self._unsaid = self._unsaid, []
        for utterance in lost:
            self.on_said(utterance, False)

    def _take(self, message: Message) -> None:
        match message.get("is"):
            case "said":
                utterance = int(message["utterance"])
                if utterance in self._unsaid:
                    self._unsaid.remove(utterance)
                    self.on_said(utterance, bool(message["completed"]))
            case "speaking":
                self.on_speaking(int(message["utterance"]))
            case "heard":
                self.heard_dbfs = message["dbfs"]
                self.on_heard(
                    int(message["window"]),
                    message["began"],
                    message["ended"],
                    proposals_from_json(message["proposals"]),
                    verdict_from_json(message["verdict"]),
                )
            case "level":
                self.on_level(message["dbfs"], message["state"])
            case "button":
                self.on_button(message["name"], bool(message["pressed"]))
            case "trouble":
                self.on_trouble(message["text"])
            case "ready":
                self.capabilities = message["capabilities"]
                self._settled.set()
                self.on_ready(self.capabilities)
            case "failed":
                if self._settled.is_set():
                    # It was started again in mid-run: nobody waits to be told of a failure.
                    self._gone = True
                    self.on_trouble(f"{message['text']}: going on with keys")
                else:
                    self._failure = RunnerError(message["text"], int(message["status"]))
                    self._settled.set()
            case "input ended":
                self.on_input_ended()
