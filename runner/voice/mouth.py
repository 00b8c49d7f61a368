"""Speaking as commands: makes each phrase, plays it in order, and reports how it ended."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from runner.engine.events import Verdict
from runner.errors import RunnerError
from runner.phrasing.normal import normalise
from runner.voice.devices import RETRY_SECONDS, called
from runner.voice.echo import at_hearing_rate, likeness
from runner.voice.messages import Message
from runner.voice.player import (
    URGENCY_RANK,
    FilePlayer,
    Player,
    Sound,
    SpeakerPlayer,
    Urgency,
)
from runner.voice.settings import VoiceSettings
from runner.voice.speech import SpeechStore, default_folder
from runner.voice.waves import tone

REMEMBERED = 4
"""How many of the last utterances are compared with what the microphone hears."""

ECHO_SECONDS = 0.4
"""How long after its end Runner's own voice may still reach the microphone."""

ECHO_FROM = 0.6
"""Likeness to what is played from which it is that. Of 1,400 pieces of Runner's voice, let through
by a headset or come back in a room, 1 in 50 was less like it, nearly all of those far below
engines; of answers by others given meanwhile 1 in 20 is more like it, of those in a headset that
lets it through 1 in 6, and has to be said again (``tests/bench/hearing_unmeant.py``)."""

BEFORE_SECONDS = 0.24
"""How long before it is known to begin an utterance's samples begin."""


@dataclass(frozen=True, slots=True)
class _Spoken:
    """Something that Runner has said, from one second to another, as samples at 16 kHz."""

    text: str
    began: float
    ended: float
    sound: bytes


@dataclass(slots=True)
class _Wanted:
    """An utterance that was asked for; ``sound`` is None until made, empty where it cannot be."""

    utterance: int
    text: str
    urgency: Urgency
    sound: bytes | None = None


def _play(sound: Sound, player: Player) -> None:
    player.play(sound)


class Mouth:
    """Turns commands into sound. ``later`` puts an entry into the session's queue."""

    def __init__(
        self,
        settings: VoiceSettings,
        send: Callable[[Message], None],
        later: Callable[[tuple[str, object]], None],
    ) -> None:
        self._settings = settings
        self._send = send
        self._later = later
        self._player: Player | None = None
        self._store: SpeechStore | None = None
        self._wanted: list[_Wanted] = []
        self._texts: dict[int, str] = {}
        self._began: dict[int, float] = {}
        self._sounds: dict[int, bytes] = {}
        self._spoken: deque[_Spoken] = deque(maxlen=REMEMBERED)
        self._quiet_from = 0.0
        self._told = False
        self._chosen = ""
        self._coming: SpeakerPlayer | None = None
        self._next_try = 0.0
        self._question: _Wanted | None = None
        self._repeated: int | None = None
        self.speaks = False

    @property
    def busy(self) -> bool:
        """Whether anything is spoken or about to be."""
        return bool(self._wanted or self._texts)

    def open(self) -> None:
        """Open the way to speak; raises ``RunnerError`` for a loudspeaker that is not there."""
        kind, _, rest = self._settings.speak.partition(":")
        if kind == "none":
            return
        style = self._settings.style
        folder = Path(self._settings.cache) if self._settings.cache else default_folder()
        self._store = SpeechStore(
            style.synthesiser_voice,
            style.rate,
            folder,
            lambda text, sound, error: self._later(("made", (text, sound, error))),
        )
        if kind == "wav":
            self._player = FilePlayer(Path(rest), self._settings.pace, self._begin, self._end)
        else:
            self._open_speaker()
        self.speaks = self._player is not None

    def warm(self) -> None:
        """Start the synthesiser, so that the first new phrase does not wait for it."""
        if self._store is not None:
            self._store.warm()

    def obey(self, command: Message) -> None:
        """Carry out one command."""
        match command["do"]:
            case "say":
                self._say(command["utterance"], command["speech"], command["urgency"])
            case "prepare":
                if self._store is not None:
                    self._store.likely([text for text in command["speeches"] if text.strip()])
            case "wake":
                self._safely(lambda player: player.wake())
            case "tone":
                name = command["name"]
                self._safely(lambda player: player.overlay(tone(name)))
            case "hush":
                self._hush()

    def take(self, kind: str, value: object) -> None:
        """Something from a thread: a phrase was made, a sound began or ended."""
        match kind, value:
            case "made", (str(text), sound, str(error)):
                self._made(text, sound, error)
            case "begun", (int(utterance), float(at)):
                self._began[utterance] = at
                self._send({"is": "speaking", "utterance": utterance, "at": at})
            case "ended", (int(utterance), bool(completed), float(at)):
                text = self._texts.pop(utterance, "")
                began = self._began.pop(utterance, at)
                sound = self._sounds.pop(utterance, b"")
                self._spoken.append(_Spoken(normalise(text), began, at, sound))
                self._quiet_from = max(self._quiet_from, at)
                if completed and self._question and self._question.utterance == utterance:
                    self._question = None
                self._report(utterance, completed)

    def sounding(self, at: float, tail: float) -> bool:
        """Whether Runner's voice can be heard at that second, or could ``tail`` seconds before."""
        return bool(self._texts) or at < self._quiet_from + tail

    def disown(self, verdict: Verdict, began: float, sound: bytes = b"") -> Verdict:
        """The verdict, or a rejection when it is what Runner itself was saying at that time.

        ``sound`` is what was heard, 16-bit mono at 16 kHz; ``began`` the second of its beginning.
        """
        if verdict.decision == "reject":
            return verdict
        now = time.monotonic()
        speaking = [
            _Spoken(normalise(text), self._began[utterance], now, self._sounds.get(utterance, b""))
            for utterance, text in self._texts.items()
            if utterance in self._began
        ]
        for one in [*self._spoken, *speaking]:
            if not one.began - BEFORE_SECONDS <= began <= one.ended + ECHO_SECONDS:
                continue
            words = normalise(verdict.text)
            named = bool(words) and one.began <= began and f" {words} " in f" {one.text} "
            after = began - BEFORE_SECONDS - one.began
            if named or likeness(sound, one.sound, after) >= ECHO_FROM:
                return replace(verdict, decision="reject", candidate=None, value=None,
                               reason="Runner's own voice")  # fmt: skip
        return verdict

    def answered(self) -> None:
        """The question is over: it need not be said again when the loudspeaker is back."""
        self._question = None
        self._stop_repeating()

    def watch(self) -> None:
        """Now and then: let the device rest, notice when it is gone and when it is back."""
        self._safely(lambda player: player.rest())
        if isinstance(self._player, SpeakerPlayer) and self._player.stalled:
            self._lose(f"{called('playback', self._chosen)} is gone")
        elif self._player is None and self._settings.speak == "speaker":
            self._look_for_speaker(time.monotonic())

    def close(self) -> None:
        """Cut everything and give the device back."""
        if self._player is not None:
            self._player.close()
        if self._coming is not None:
            self._coming.close()
        if self._store is not None:
            self._store.close()

    def _open_speaker(self) -> None:
        import miniaudio

        try:
            player = SpeakerPlayer(self._settings.speaker, self._begin, self._end)
        except miniaudio.MiniaudioError as error:
            self._lose(f"no loudspeaker ({error.args[0]})")
            return
        self._player, self._chosen = player, player.name

    def _look_for_speaker(self, now: float) -> None:
        """Open a lost loudspeaker again, and use it once it asks for sound."""
        import miniaudio

        coming = self._coming
        if coming is None:
            if now < self._next_try:
                return
            self._next_try = now + RETRY_SECONDS
            wanted = self._chosen or self._settings.speaker
            try:
                coming = SpeakerPlayer(wanted, self._begin, self._end, whole=bool(self._chosen))
            except (miniaudio.MiniaudioError, RunnerError):
                return
            try:
                coming.wake()
            except miniaudio.MiniaudioError:
                coming.close()
                return
            self._coming = coming
        elif coming.stalled:
            coming.close()
            self._coming = None
        elif coming.awake:
            self._coming = None
            self._player, self._chosen = coming, coming.name
            self.speaks = True
            back = called("playback", self._chosen)
            self._send({"is": "trouble", "text": f"{back} is there again: speech goes on"})
            self._say_again()

    def _say_again(self) -> None:
        """Say the question that was lost: it is still open, and nobody has heard it."""
        question = self._question
        if question is None or self._store is None:
            return
        self._repeated = question.utterance
        self._wanted.append(_Wanted(question.utterance, question.text, question.urgency))
        self._store.want(question.text)

    def _stop_repeating(self) -> None:
        if self._repeated is None:
            return
        repeated, self._repeated = self._repeated, None
        self._wanted = [wanted for wanted in self._wanted if wanted.utterance != repeated]
        if repeated in self._texts:
            self._safely(lambda player: player.cut())

    def _begin(self, utterance: int | None, at: float) -> None:
        if utterance is not None:
            self._later(("begun", (utterance, at)))

    def _end(self, utterance: int | None, completed: bool, at: float) -> None:
        if utterance is not None:
            self._later(("ended", (utterance, completed, at)))

    def _say(self, utterance: int, speech: str, urgency: Urgency) -> None:
        if self._settings.speak == "none" or not speech.strip():
            self._report(utterance, True)
            return
        self._stop_repeating()
        wanted = _Wanted(utterance, speech, urgency)
        if urgency != "urgent":
            self._question = wanted if urgency == "prompt" else None
        if self._player is None or self._store is None:
            self._report(utterance, False)
            return
        self._wanted.append(wanted)
        self._store.want(speech)

    def _made(self, text: str, sound: object, error: str) -> None:
        asked = [wanted for wanted in self._wanted if wanted.text == text]
        for wanted in asked:
            wanted.sound = sound if isinstance(sound, bytes) else b""
        if asked and not isinstance(sound, bytes) and not self._told:
            self._told = True
            self._send({"is": "trouble", "text": f"no speech can be made ({error})"})
        self._play_what_is_made()

    def _play_what_is_made(self) -> None:
        """Play in the order of asking: what is made waits for what was asked for before it."""
        waiting: list[_Wanted] = []
        asked, self._wanted = self._wanted, []
        for wanted in asked:
            if self._player is None:
                self._report(wanted.utterance, False)
                continue
            rank = URGENCY_RANK[wanted.urgency]
            if wanted.sound is None or any(URGENCY_RANK[w.urgency] <= rank for w in waiting):
                waiting.append(wanted)
                continue
            if not wanted.sound:
                self._report(wanted.utterance, False)
                continue
            self._texts[wanted.utterance] = wanted.text
            self._sounds[wanted.utterance] = at_hearing_rate(wanted.sound)
            sound = Sound(wanted.utterance, wanted.sound, wanted.urgency)
            self._safely(partial(_play, sound))
        if self._player is None:
            for wanted in waiting:
                self._report(wanted.utterance, False)
            return
        self._wanted = waiting

    def _hush(self) -> None:
        self._question = None
        lost, self._wanted = self._wanted, []
        for wanted in lost:
            self._report(wanted.utterance, False)
        self._safely(lambda player: player.cut())

    def _report(self, utterance: int, completed: bool) -> None:
        self._send({"is": "said", "utterance": utterance, "completed": completed})

    def _safely(self, act: Callable[[Player], None]) -> None:
        """Do something with the player; a device that fails is told once and given up."""
        if self._player is None:
            return
        import miniaudio

        try:
            act(self._player)
        except miniaudio.MiniaudioError as error:
            self._lose(f"{called('playback', self._chosen)} failed ({error.args[0]})")

    def _lose(self, cause: str) -> None:
        if self._player is not None:
            self._player.close()
        self._player = None
        self.speaks = False
        text = f"{cause}: going on without speech until it is there again"
        self._send({"is": "trouble", "text": text})
        for wanted in self._wanted:
            self._report(wanted.utterance, False)
        self._wanted = []
