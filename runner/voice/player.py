"""Playing: one queue of sounds for the loudspeaker, cut short or overtaken at any time.

The device asks for samples from a thread of its own; all that it needs is guarded by one
lock. A sound counts as ended when its last sample has had the time to be heard.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Generator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, Protocol

from runner.voice.devices import WAKING_SECONDS, backends, find_device
from runner.voice.waves import RATE, WIDTH, mix, seconds, write_wav

Urgency = Literal["routine", "prompt", "urgent"]

URGENCY_RANK: dict[str, int] = {"urgent": 0, "prompt": 1, "routine": 2}

PERIOD_MS = 20
"""Length of the pieces that the device asks for."""

PERIODS = 3
"""Pieces that the device holds: what has been handed over is heard this many later."""

LATENCY = PERIOD_MS * PERIODS / 1000
"""Seconds from handing a sample over to hearing it."""

IDLE_SECONDS = 20.0
"""After this long without a sound the device is stopped; ``wake`` starts it again."""

STALL_SECONDS = 2.0
"""A running device that asks for nothing for so long is lost."""

SETTLED = 2 * PERIODS
"""A device that has asked so often since it was started is awake: before, it may be slow."""


@dataclass(slots=True)
class Sound:
    """One thing to be played: an utterance, or a tone (``utterance`` is None)."""

    utterance: int | None
    samples: bytes
    urgency: Urgency = "routine"
    at: int = 0


class Player(Protocol):
    """Where sounds go: a loudspeaker, a folder of WAV files, or nowhere."""

    def wake(self) -> None:
        """Be ready to sound at once."""

    def play(self, sound: Sound) -> None:
        """Play after what is waiting already, or before it, by its urgency."""

    def overlay(self, samples: bytes) -> None:
        """Sound a tone now, over whatever is being played."""

    def cut(self) -> None:
        """Stop what is played and forget what waits; each is reported as cut."""

    def rest(self) -> None:
        """Called now and then: stop the device when nothing has sounded for long."""

    def close(self) -> None:
        """Give the device back."""


class Queue:
    """The order of sounds: urgent ones first, and what they interrupt is begun again.

    A speech cut by an urgent one would otherwise be lost, and a challenge that is never
    heard is never answered.
    """

    def __init__(self) -> None:
        self.current: Sound | None = None
        self.waiting: list[Sound] = []

    def add(self, sound: Sound) -> None:
        """Put a sound in its place; an urgent one interrupts one that is not."""
        rank = URGENCY_RANK[sound.urgency]
        if self.current is not None and rank == 0 and URGENCY_RANK[self.current.urgency] > 0:
            self.current.at = 0
            self.waiting.insert(0, self.current)
            self.current = None
        place = len(self.waiting)
        while place and URGENCY_RANK[self.waiting[place - 1].urgency] > rank:
            place -= 1
        self.waiting.insert(place, sound)

    def take(self, size: int) -> tuple[bytes, list[Sound], list[Sound]]:
        """The next ``size`` bytes (fewer at the end), sounds begun and sounds that ended."""
        out = bytearray()
        begun: list[Sound] = []
        ended: list[Sound] = []
        while len(out) < size:
            if self.current is None:
                if not self.waiting:
                    break
                self.current = self.waiting.pop(0)
                begun.append(self.current)
            piece = self.current.samples[self.current.at : self.current.at + size - len(out)]
            out += piece
            self.current.at += len(piece)
            if self.current.at >= len(self.current.samples):
                ended.append(self.current)
                self.current = None
        return bytes(out), begun, ended

    def clear(self) -> list[Sound]:
        """Forget everything; gives what was forgotten."""
        gone = ([self.current] if self.current else []) + self.waiting
        self.current, self.waiting = None, []
        return gone


class SpeakerPlayer:
    """Plays through miniaudio on the device whose name contains ``device`` (``whole``: is it).

    ``name`` is the device's, empty for the system's own choice. Raises ``RunnerError`` with
    status 3 where it is not there, ``miniaudio.MiniaudioError`` where it cannot be opened.
    ``on_begin(utterance, at)`` and ``on_end(utterance, completed, at)`` are called from the
    device's thread or the caller's, with the monotonic second at which it is heard.
    """

    def __init__(
        self,
        device: str,
        on_begin: Callable[[int | None, float], None],
        on_end: Callable[[int | None, bool, float], None],
        *,
        whole: bool = False,
    ) -> None:
        import miniaudio

        found = find_device("playback", device, whole=whole)
        self.name = found[0] if found else ""
        self._device: Any = miniaudio.PlaybackDevice(
            output_format=miniaudio.SampleFormat.SIGNED16,
            nchannels=1,
            sample_rate=RATE,
            buffersize_msec=PERIOD_MS,
            callback_periods=PERIODS,
            device_id=found[1] if found else None,
            backends=backends(),
            app_name="Runner",
        )
        self._on_begin = on_begin
        self._on_end = on_end
        self._lock = threading.Lock()
        self._queue = Queue()
        self._overlay = b""
        self._started = False
        self._times_asked = 0
        self._asked = self._last_sound = time.monotonic()

    def wake(self) -> None:
        """Start the device when it is stopped."""
        self._last_sound = time.monotonic()
        if not self._started:
            source = self._samples()
            next(source)
            self._asked = time.monotonic()
            self._times_asked = 0
            self._device.start(source)
            self._started = True

    def play(self, sound: Sound) -> None:
        """See ``Player``."""
        with self._lock:
            self._queue.add(sound)
        self.wake()

    def overlay(self, samples: bytes) -> None:
        """See ``Player``."""
        with self._lock:
            self._overlay = mix(self._overlay, samples)
        self.wake()

    def cut(self) -> None:
        """See ``Player``."""
        with self._lock:
            gone = self._queue.clear()
            self._overlay = b""
        for sound in gone:
            self._on_end(sound.utterance, False, time.monotonic() + LATENCY)

    def rest(self) -> None:
        """Stop the device when nothing has sounded for ``IDLE_SECONDS``."""
        idle = time.monotonic() - self._last_sound > IDLE_SECONDS
        if self._started and idle and not self._queue.current and not self._queue.waiting:
            self._device.stop()
            self._started = False

    @property
    def stalled(self) -> bool:
        """Whether the device, although it runs, has stopped to ask for samples."""
        patience = STALL_SECONDS if self.awake else WAKING_SECONDS
        return self._started and time.monotonic() - self._asked > patience

    @property
    def awake(self) -> bool:
        """Whether the device plays, after the moments that it may take to start."""
        return self._times_asked > SETTLED

    def close(self) -> None:
        """Stop at once; what had not ended is reported as cut."""
        self.cut()
        self._device.close()

    def _samples(self) -> Generator[bytes, int, None]:
        frames = yield b""
        while True:
            size = frames * WIDTH
            self._asked = time.monotonic()
            self._times_asked += 1
            with self._lock:
                piece, begun, ended = self._queue.take(size)
                tone, self._overlay = self._overlay[:size], self._overlay[size:]
            if piece or tone:
                self._last_sound = time.monotonic()
            heard = time.monotonic() + LATENCY
            for sound in begun:
                self._on_begin(sound.utterance, heard)
            for sound in ended:
                self._on_end(sound.utterance, True, heard)
            if tone:
                piece = mix(piece, tone)
            frames = yield piece + bytes(size - len(piece))


class FilePlayer:
    """Writes each utterance to a WAV file of its own, and lets it last as long as it would.

    With ``pace`` 0 it lasts no time; with ``folder`` None nothing is written.
    """

    def __init__(
        self,
        folder: Path | None,
        pace: float,
        on_begin: Callable[[int | None, float], None],
        on_end: Callable[[int | None, bool, float], None],
    ) -> None:
        if folder is not None:
            folder.mkdir(parents=True, exist_ok=True)
        self._folder = folder
        self._pace = pace
        self._on_begin = on_begin
        self._on_end = on_end
        self._count = 0
        self._condition = threading.Condition()
        self._queue = Queue()
        self._closed = False
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def wake(self) -> None:
        """Nothing has to be woken."""

    def play(self, sound: Sound) -> None:
        """See ``Player``."""
        with self._condition:
            self._queue.add(sound)
            self._condition.notify()

    def overlay(self, samples: bytes) -> None:
        """Tones are not written."""

    def cut(self) -> None:
        """See ``Player``."""
        with self._condition:
            gone = self._queue.clear()
            self._condition.notify()
        for sound in gone:
            self._on_end(sound.utterance, False, time.monotonic())

    def rest(self) -> None:
        """Nothing has to rest."""

    def close(self) -> None:
        """Stop at once."""
        self._closed = True
        self.cut()

    def _run(self) -> None:
        while True:
            with self._condition:
                while not self._queue.waiting and not self._closed:
                    self._condition.wait()
                if self._closed:
                    return
                sound = self._queue.waiting.pop(0)
                self._queue.current = sound
                self._on_begin(sound.utterance, time.monotonic())
                length = seconds(sound.samples) / self._pace if self._pace else 0.0
                deadline = time.monotonic() + length
                while self._queue.current is sound and time.monotonic() < deadline:
                    self._condition.wait(deadline - time.monotonic())
                completed = self._queue.current is sound
                if completed:
                    self._queue.current = None
            if completed:
                if self._folder is not None and sound.utterance is not None:
                    self._count += 1
                    write_wav(self._folder / f"{self._count:04d}.wav", sound.samples)
                self._on_end(sound.utterance, True, time.monotonic())
