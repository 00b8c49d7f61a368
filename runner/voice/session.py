"""The voice process's one loop: commands, sound, and the ends of utterances, in order.

Everything arrives in one queue and is handled by one thread. Devices and the synthesiser
have threads of their own that only put something into the queue.
"""

from __future__ import annotations

import queue
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from runner.errors import RunnerError
from runner.voice.devices import RETRY_SECONDS, WAKING_SECONDS, called, list_devices
from runner.voice.ears import Ears, Outcome
from runner.voice.messages import (
    Message,
    listen_from_json,
    proposals_to_json,
    verdict_to_json,
)
from runner.voice.microphone import Microphone, SoundFile, Watch
from runner.voice.mouth import Mouth
from runner.voice.settings import VoiceSettings
from runner.voice.utterance import FRAME_BYTES, FRAME_SECONDS, Gate
from runner.voice.voice_activity import voice_detector

if TYPE_CHECKING:
    from runner.voice.retune import Retuner
    from runner.voice.takes import Takes

LEVEL_SECONDS = 0.2
"""How often the microphone's level is reported."""

LEVEL_STEP = 2.0
"""Decibels by which the level has to differ to be reported again: a room is never quite still."""

SILENT_SECONDS = 2.0
"""A microphone that gives no samples for so long is lost."""

FILE_HOLD_SECONDS = 0.4
"""After an answer from a file: how long the next window may take to open."""

Entry = tuple[str, Any, float]


class Session:
    """Owns the devices and the recognisers from ``start`` until ``stop``."""

    def __init__(
        self, settings: VoiceSettings, send: Callable[[Message], None], inbox: queue.Queue[Entry]
    ) -> None:
        self._settings = settings
        self._send = send
        self._inbox = inbox
        self._ears: Ears | None = None
        self._retuner: Retuner | None = None
        self._microphone: Microphone | None = None
        self._chosen = ""
        self._lost = False
        self._microphone_watch = Watch()
        self._file: SoundFile | None = None
        self._mouth = Mouth(settings, send, lambda entry: inbox.put((*entry, time.monotonic())))
        self._controller: Any = None
        self._muted = False
        self._talking = settings.push_to_talk == "off"
        self._rest = b""
        self._was_shut = True
        self._last_sound = 0.0
        self._next_try = 0.0
        self._loudest = -120.0
        self._level_at = 0.0
        self._level_dbfs = 0.0
        self._level_state = ""
        self._hold_until = 0.0
        self._file_over = False

    def start(self) -> None:
        """Open what is needed, and say ``ready`` when an answer would be heard.

        Raises ``RunnerError`` for a device or a recogniser asked for by name that is not there.
        """
        settings = self._settings
        self._mouth.open()
        kind, _, rest = settings.listen.partition(":")
        limits: list[str] = []
        recognisers: list[str] = []
        if kind == "wav":
            self._file = SoundFile(Path(rest), settings.pace)
        elif kind == "mic":
            self._open_microphone(first=True)
        if kind != "none":
            self._load_ears(recognisers, limits)
        self._open_controller()
        hears = kind != "none" and (self._microphone is not None or self._file is not None)
        self._send(
            {
                "is": "ready",
                "capabilities": {
                    "hears": hears,
                    "speaks": self._mouth.speaks,
                    "recognisers": recognisers,
                    "limits": limits if hears else [],
                },
            }
        )
        self._mouth.warm()

    def run(self) -> None:
        """Handle everything that arrives until told to stop."""
        while True:
            try:
                kind, value, at = self._inbox.get(timeout=self._patience())
            except queue.Empty:
                self._idle()
                continue
            if kind == "command":
                if value.get("do") == "stop":
                    return
                self._obey(value)
            elif kind == "sound":
                self._hear(value, at)
            elif kind == "button":
                self._press(*value)
            else:
                self._mouth.take(kind, value)

    def stop(self) -> None:
        """Give everything back."""
        if self._retuner is not None:
            self._retuner.close()
        if self._controller is not None:
            self._controller.close()
        if self._microphone is not None:
            self._microphone.close()
        self._mouth.close()

    def _load_ears(self, recognisers: list[str], limits: list[str]) -> None:
        from runner.voice.recogniser import choose
        from runner.voice.takes import Takes, takes_folder
        from runner.voice.vosk_model import model_folder

        settings = self._settings
        takes = Takes(takes_folder(settings.takes)) if settings.takes else None
        made = choose(
            settings.recogniser,
            model_folder(settings.vosk_model),
            settings.patterns,
            settings.style.language,
            takes,
        )
        for recogniser in made:
            recognisers.append(recogniser.capabilities.name)
            limits.extend(recogniser.capabilities.limits)
        self._ears = Ears(made, Gate(voice_detector()))
        matched = any(recogniser.capabilities.name == "matcher" for recogniser in made)
        if matched and takes is not None:
            self._retune(takes)

    def _retune(self, takes: Takes) -> None:
        """Keep sure answers as further takes, where the pilot has agreed to it."""
        if takes.retuned:
            from runner.voice.retune import Retuner

            self._retuner = Retuner(takes)

    def _open_microphone(self, first: bool = False) -> None:
        import miniaudio

        now = time.monotonic()
        self._next_try = now + RETRY_SECONDS
        self._last_sound = now + WAKING_SECONDS - SILENT_SECONDS
        try:
            self._microphone = Microphone(
                self._chosen or self._settings.microphone,
                lambda samples, at: self._inbox.put(("sound", samples, at)),
                whole=bool(self._chosen),
            )
            self._chosen = self._microphone.name
        except miniaudio.MiniaudioError as error:
            if first:
                self._lose_microphone(f"no microphone ({error.args[0]}): answer with the keys")
        except RunnerError:
            if first:
                raise

    def _lose_microphone(self, text: str) -> None:
        """Give the microphone up, and say so unless it was lost already."""
        if self._microphone is not None:
            self._microphone.close()
            self._microphone = None
        self._rest = b""
        if self._ears is not None:
            self._ears.forget()
        if self._lost:
            return
        self._lost = True
        self._level_state = "no microphone"
        self._send({"is": "level", "dbfs": -120.0, "state": "no microphone"})
        self._send({"is": "trouble", "text": text})

    def _open_controller(self) -> None:
        settings = self._settings
        if not settings.buttons:
            return
        from runner.voice.controller import Controller

        self._controller = Controller(
            settings.controller,
            settings.buttons,
            lambda name, pressed: self._inbox.put(("button", (name, pressed), time.monotonic())),
            lambda text: self._send({"is": "trouble", "text": text}),
        )
        self._controller.start()

    def _obey(self, command: Message) -> None:
        match command["do"]:
            case "listen":
                if self._ears is not None:
                    listen = listen_from_json(command["listen"])
                    self._ears.open(listen)
                    if self._retuner is not None:
                        self._retuner.opened(listen)
                    self._hold_until = 0.0
            case "close":
                self._mouth.answered()
                if self._ears is not None:
                    self._ears.close(command["window"])
            case "mute":
                self._muted = command["muted"]
            case "talk":
                self._talk(command["pressed"])
            case _:
                self._mouth.obey(command)

    def _talk(self, open_now: bool) -> None:
        if self._settings.push_to_talk == "off":
            return
        if self._talking and not open_now and self._ears is not None:
            self._report(self._ears.finish())
        self._talking = open_now

    def _press(self, name: str, pressed: bool) -> None:
        if name == "talk":
            if self._settings.push_to_talk == "toggle":
                if pressed:
                    self._talk(not self._talking)
            else:
                self._talk(pressed)
        self._send({"is": "button", "name": name, "pressed": pressed})

    def _shut(self, at: float) -> bool:
        if self._muted or not self._talking:
            return True
        return not self._settings.headset and self._mouth.sounding(
            at, self._settings.tail_ms / 1000
        )

    def _hear(self, samples: bytes, at: float) -> None:
        self._last_sound = at
        if self._settings.listen == "mic":
            if self._microphone is None:
                return
            self._check_microphone(samples)
        ears = self._ears
        if ears is None:
            return
        data = self._rest + samples
        count = len(data) // FRAME_BYTES
        self._rest = data[count * FRAME_BYTES :]
        for number in range(count):
            frame = data[number * FRAME_BYTES : (number + 1) * FRAME_BYTES]
            heard_at = at - (count - 1 - number) * FRAME_SECONDS
            if self._shut(heard_at):
                if not self._was_shut:
                    ears.forget()
                self._was_shut = True
                continue
            self._was_shut = False
            outcome = ears.take(frame, heard_at)
            self._loudest = max(self._loudest, ears.level) if ears.hearing else self._loudest
            self._report(outcome)
            if not ears.hearing:
                self._loudest = -120.0
        self._show_level(at)
        if self._inbox.empty():
            self._watch(at)

    def _report(self, outcome: Outcome | None) -> None:
        if outcome is None:
            return
        verdict = self._mouth.disown(outcome.verdict, outcome.began, outcome.sound)
        if self._retuner is not None and outcome.listen is not None:
            self._retuner.heard(outcome.proposals, verdict, outcome.listen, outcome.sound)
        self._hold_until = time.monotonic() + FILE_HOLD_SECONDS
        if verdict.decision == "accept":
            self._mouth.answered()
        self._send(
            {
                "is": "heard",
                "window": outcome.window,
                "began": outcome.began,
                "ended": outcome.ended,
                "dbfs": round(self._loudest, 1),
                "proposals": proposals_to_json(outcome.proposals),
                "verdict": verdict_to_json(verdict),
            }
        )

    def _show_level(self, at: float) -> None:
        ears = self._ears
        if ears is None:
            return
        state = "open"
        if self._was_shut or not ears.listening:
            state = "shut"
        elif ears.hearing:
            state = "hearing speech"
        if state == self._level_state and at - self._level_at < LEVEL_SECONDS:
            return
        if state == "shut" and self._level_state == "shut":
            return
        if state == self._level_state and abs(ears.level - self._level_dbfs) < LEVEL_STEP:
            return
        self._level_at, self._level_state, self._level_dbfs = at, state, ears.level
        self._send({"is": "level", "dbfs": round(ears.level, 1), "state": state})

    def _patience(self) -> float:
        if self._file is not None and not self._file_over:
            if self._file_may_run():
                return max(0.0005, self._file.wait(time.monotonic()))
            return 0.05
        return 0.5

    def _file_may_run(self) -> bool:
        now = time.monotonic()
        ears = self._ears
        return (
            ears is not None
            and now >= self._hold_until
            and (ears.listening or ears.hearing)
            and not self._mouth.busy
            and not self._shut(now)
        )

    def _idle(self) -> None:
        now = time.monotonic()
        if self._file is not None and not self._file_over:
            if self._file_may_run():
                self._hear(self._file.next_frame(now), now)
                if self._file.ended:
                    self._file_over = True
                    self._send({"is": "input ended"})
            return
        self._watch(now)

    def _watch(self, now: float) -> None:
        self._mouth.watch()
        if self._settings.listen != "mic":
            return
        if self._microphone is None:
            if now >= self._next_try:
                self._open_microphone()
        elif now - self._last_sound > SILENT_SECONDS or self._moved_away(now):
            gone = called("capture", self._chosen)
            self._lose_microphone(f"{gone} is gone: answer with the keys until it is there again")

    def _moved_away(self, now: float) -> bool:
        """Whether the sound server gives the loudspeaker's own sound in a lost microphone's place.

        It does where it has no other; a microphone chosen by name it does not replace.
        """
        if self._chosen or now < self._next_try or not sys.platform.startswith("linux"):
            return False
        self._next_try = now + RETRY_SECONDS
        return not list_devices("capture")

    def _check_microphone(self, samples: bytes) -> None:
        if self._lost:
            # Only now: a device may be listed and opened without giving a sound.
            self._lost = False
            text = f"{called('capture', self._chosen)} is there again"
            self._send({"is": "trouble", "text": text})
        if wrong := self._microphone_watch.take(samples):
            self._send({"is": "trouble", "text": wrong})
