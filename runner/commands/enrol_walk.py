"""The walk through an enrolment at the terminal: say it, keep it, say it again, stop, go on."""

from __future__ import annotations

import sys
import threading
from dataclasses import dataclass, field

from runner.commands.keys import END, Keys
from runner.errors import RunnerError
from runner.voice.enrolment import TAKES_EACH, Plan, Wanted, progress
from runner.voice.recogniser import RATE
from runner.voice.recording import Recorder, Recording
from runner.voice.take_checks import FEWEST_OTHERS, Comparison, Doubt, fault
from runner.voice.takes import Takes

FAULTS_ALLOWED = 5
"""Recordings of one take that come to nothing before the phrase is left for later."""

REPEATS_UNASKED = 2
"""Doubted takes of a phrase that are recorded again where nobody can be asked."""

SECONDS_A_PHRASE = 10
"""What three takes of a phrase take, about."""

CELLS = 30
METER_LOW, METER_HIGH = -60.0, -10.0
"""dB of full scale at both ends of the level meter."""

OPPOSITE = "so that it is not taken for the answer"

KEYS = "Enter next, r record again, p play, s skip, q stop"


class _Stopped(Exception):
    """The pilot has stopped."""


class _Skipped(Exception):
    """The pilot leaves a phrase out."""


def walk(plan: Plan, takes: Takes, comparison: Comparison, microphone: str, speaker: str) -> None:
    """Record what the plan still needs, until it is done or the pilot stops.

    Raises ``RunnerError`` where there is no microphone, or it goes.
    """
    from runner.voice.voice_activity import voice_detector

    left = progress(plan, takes)
    recorder = Recorder(microphone, voice_detector())
    try:
        with Keys() as keys:
            minutes = max(1, round(len(left.left) * SECONDS_A_PHRASE / 60))
            print(
                f"Say each phrase as you say it on the flight deck. {recorder.name} listens; "
                f"about {minutes} min. Keys: {KEYS}."
            )
            _Walk(takes, comparison, recorder, keys, _Replay(speaker)).through(plan, left.left)
    except _Stopped:
        print("Stopped.")
    finally:
        recorder.close()


@dataclass(slots=True)
class _Replay:
    """Plays a take; a loudspeaker that is not there is said once and costs nothing else."""

    speaker: str
    last: bytes = b""
    _broken: bool = field(default=False)

    def play(self) -> None:
        import miniaudio

        from runner.voice.player import Sound, SpeakerPlayer
        from runner.voice.waves import RATE as PLAYED

        if self._broken or not self.last:
            print("  nothing to play")
            return
        mono = miniaudio.SampleFormat.SIGNED16
        samples = bytes(miniaudio.convert_frames(mono, 1, RATE, self.last, mono, 1, PLAYED))
        ended = threading.Event()
        try:
            player = SpeakerPlayer(self.speaker, lambda *_: None, lambda *_: ended.set())
        except (miniaudio.MiniaudioError, RunnerError) as error:
            self._broken = True
            print(f"  cannot be played: {error}")
            return
        player.play(Sound(1, samples))
        # The device hands the last samples over before they are heard.
        if ended.wait(len(samples) / 2 / PLAYED + 3.0):
            threading.Event().wait(0.15)
        player.close()


class _Walk:
    def __init__(
        self, takes: Takes, comparison: Comparison, recorder: Recorder, keys: Keys, replay: _Replay
    ) -> None:
        self._takes = takes
        self._comparison = comparison
        self._recorder = recorder
        self._keys = keys
        self._replay = replay
        self._unsettled: list[str] = []

    def through(self, plan: Plan, left: tuple[Wanted, ...]) -> None:
        places = {wanted.phrase: place for place, wanted in enumerate(plan.phrases, 1)}
        for wanted in left:
            print(f"{places[wanted.phrase]} of {len(places)}: {wanted.phrase.upper()}", end="")
            print(f" ({OPPOSITE})" if wanted.kind == "opposite" else "")
            try:
                self._phrase(wanted.phrase)
            except _Skipped:
                print("  left for later")

    def _phrase(self, phrase: str) -> None:
        for _ in range(TAKES_EACH - len(self._takes.enrolled(phrase))):
            self._record(phrase)
        self._settle(phrase)
        if len(self._takes.phrases()) <= FEWEST_OTHERS:
            self._unsettled.append(phrase)
            return
        # The first phrases had nothing to be compared with.
        while self._unsettled:
            first = self._unsettled.pop(0)
            if self._doubt(first) is not None:
                print(f"  now '{first}'")
                self._settle(first)

    def _settle(self, phrase: str) -> None:
        """Ask what is to become of a phrase's takes until the pilot is content with them."""
        unasked = 0
        while True:
            doubt = self._doubt(phrase)
            numbers = [number for number, _ in self._takes.numbered(phrase)]
            again = numbers[-1] if doubt is None else numbers[doubt.place]
            print(f"  {doubt}; r records it again" if doubt else "  good")
            key = self._ask()
            if key == END:
                # Nobody is there to be asked: the safe side is to record it again.
                if doubt is None or unasked >= REPEATS_UNASKED:
                    return
                unasked += 1
            elif key != "r":
                return
            self._record(phrase, again)

    def _doubt(self, phrase: str) -> Doubt | None:
        return self._comparison.doubt(phrase, self._known(phrase))

    def _known(self, phrase: str) -> list[str]:
        """The other phrases, the last recorded first: slips are made between neighbours."""
        return [other for other in reversed(self._takes.phrases()) if other != phrase]

    def _ask(self) -> str:
        """A key that decides: Enter, r, or ``END``; playing is done on the way."""
        while True:
            key = self._keys.wait()
            if key in ("", "r", END):
                return key
            self._at_any_time(key)

    def _at_any_time(self, key: str) -> None:
        if key == "q":
            raise _Stopped
        if key == "s":
            raise _Skipped
        if key == "p":
            self._replay.play()
        elif key not in ("", "r"):
            print(f"  {KEYS}")

    def _record(self, phrase: str, number: int = 0) -> None:
        """Record one take (in the place of take ``number``), however many tries it needs."""
        silent = 0
        for _ in range(FAULTS_ALLOWED):
            heard = self._listen(phrase, number or len(self._takes.enrolled(phrase)) + 1)
            wrong = heard.trouble or fault(heard.sound, phrase)
            if not wrong:
                if number:
                    self._takes.replace(phrase, number, heard.sound)
                else:
                    self._takes.add(phrase, heard.sound)
                self._replay.last = heard.sound
                return
            silent += not heard.sound
            print(f"  not taken: {wrong}")
        if silent == FAULTS_ALLOWED:
            print("  nobody speaks")
            raise _Stopped
        print(f"  '{phrase}' was not heard well {FAULTS_ALLOWED} times")
        raise _Skipped

    def _listen(self, phrase: str, number: int) -> Recording:
        while True:
            print(f"  take {number} of {TAKES_EACH}: say '{phrase}'", flush=True)
            heard = self._recorder.record(self._keys.pressed, _show_level)
            _wipe_level()
            if heard.key is None:
                return heard
            self._at_any_time(heard.key)


def _show_level(level: float) -> None:
    """The level as one line that is drawn again; nothing where output is no terminal."""
    if sys.stdout.isatty():
        share = (level - METER_LOW) / (METER_HIGH - METER_LOW)
        filled = max(0, min(CELLS, round(share * CELLS)))
        sys.stdout.write(f"\r  [{'#' * filled}{'-' * (CELLS - filled)}]\033[K")
        sys.stdout.flush()


def _wipe_level() -> None:
    if sys.stdout.isatty():
        sys.stdout.write("\r\033[K")
        sys.stdout.flush()
