"""What is accepted of sounds that nobody meant for Runner, through gate, matcher and judge.

    RUNNER_SPEECH_DATA=FOLDER python tests/bench/hearing_unmeant.py [--check] [--every=N]

A radio's chatter by people and by synthetic voices, in a quiet cockpit and 10 dB above four
engines; a keyboard; Runner's own words in a microphone that stays open (a headset that lets
some of it through), and what is left of them in a room when a shut microphone opens again
(loudspeakers). Each stands in a window of its own: one of the state words, or of the shipped
lists. Anything that is accepted counts, a control phrase as well; what is unclear has to be said
again, and is counted beside. ``--every=N`` takes every so
many-th trial.
"""

from __future__ import annotations

import random
import sys
import tempfile
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

from fit_phrases import shipped_items  # noqa: E402
from hearing_noise import Taken, frames_of, piece, to_bytes  # noqa: E402
from shares import Share  # noqa: E402

import speech_data  # noqa: E402
from engine_noise import RATE, Sound, active_level, keys, over_the_radio  # noqa: E402
from matching import controls, state_window  # noqa: E402
from pilots import CHATTER  # noqa: E402
from runner.checklist.load import find_file, load_voice  # noqa: E402
from runner.engine.effects import Listen  # noqa: E402
from runner.engine.events import Verdict  # noqa: E402
from runner.engine.lines import item_lines  # noqa: E402
from runner.phrasing.normal import normalise  # noqa: E402
from runner.voice.ears import Ears  # noqa: E402
from runner.voice.embedding import to_samples, trimmed  # noqa: E402
from runner.voice.matcher import MatcherRecogniser  # noqa: E402
from runner.voice.mouth import Mouth, _Spoken  # noqa: E402
from runner.voice.pocket import PocketRecogniser  # noqa: E402
from runner.voice.settings import VoiceSettings  # noqa: E402
from runner.voice.template_voices import Crew, Speaker  # noqa: E402
from runner.voice.utterance import FRAME_SECONDS, Gate  # noqa: E402
from runner.voice.voice_activity import voice_detector  # noqa: E402
from runner.voice.waves import read_wav  # noqa: E402
from sound import speak_to_file, voices  # noqa: E402

SPEECH = 2_000.0
"""Root mean square of the loud part of a pilot's speech, of 32,767."""

ROOM = 8.0
ENGINES = 10.0
"""dB that four engines lie below a pilot's voice, where there are some."""

NOISE_GOAL = 0.005
OTHER_GOALS = {"no enrolment": 0.04, "own voice": 0.01}
"""Shares of what is no speech, and of other words, that may be accepted."""

TRANSMISSIONS = 600
"""People's transmissions in each kind of cockpit and way of hearing."""

TYPING, TYPING_SECONDS = 800, 4.0
"""Windows in which somebody types, and how long each is open."""

MEANWHILE = 300
"""Answers given while Runner speaks."""

OWN_VOICE = "gmw/en-GB-x-rp"
LEAKS = (-20.0, -10.0, 0.0)
"""dB from a pilot's voice to Runner's own in a microphone that stays open."""

ROOMS = (0.3, 0.5, 0.8)
"""Seconds in which sound falls by 60 dB: a room with much in it, a usual one, a bare one."""

BEFORE, AFTER = 2.5, 1.4
"""Seconds of the cockpit before and after."""


@dataclass(frozen=True, slots=True)
class Asked:
    """A window of a shipped list, and what Runner says at it."""

    listen: Listen
    lines: tuple[str, ...]


class Cockpit:
    """Sounds in a cockpit, and what is accepted of them."""

    def __init__(self, ears: Ears, rng: random.Random, engines: bool = False) -> None:
        self.ears = ears
        self.rng = rng
        self.engines = engines
        self.unclear = 0
        """How often something would have had to be said again."""

    def around(self, sound: Sound) -> Sound:
        """A sound with the cockpit before, under and after it."""
        quiet = [np.zeros(round(seconds * RATE), dtype=np.float32) for seconds in (BEFORE, AFTER)]
        whole = np.concatenate([quiet[0], sound, quiet[1]])
        made = whole + np.random.default_rng(self.rng.randrange(1 << 30)).normal(
            0, ROOM, len(whole)
        )
        if self.engines:
            made += looped(self.rng, len(made)) * SPEECH / 10 ** (ENGINES / 20)
        return np.asarray(made, dtype=np.float32)

    def accepted(
        self,
        sound: Sound,
        listen: Listen,
        shut: tuple[float, float] = (0.0, 0.0),
        disown: Callable[[Verdict, float, bytes], Verdict] | None = None,
    ) -> Verdict | None:
        """What is accepted in a window while this sounds, or None; the microphone is ``shut``
        from one second to another; ``disown`` may take a verdict back."""
        self.ears.forget()
        self.ears.open(listen)
        taken, unclear = None, False
        for number, frame in enumerate(frames_of(to_bytes(self.around(sound)))):
            at = number * FRAME_SECONDS
            if shut[0] <= at < shut[1]:
                self.ears.forget()
                continue
            outcome = self.ears.take(frame, at)
            if outcome is not None and taken is None:
                verdict = outcome.verdict
                if disown is not None:
                    verdict = disown(verdict, outcome.began, outcome.sound)
                taken = verdict if verdict.decision == "accept" else None
                unclear = unclear or verdict.decision == "unclear"
        self.unclear += unclear and taken is None
        self.ears.close(listen.window)
        return taken


def looped(rng: random.Random, length: int) -> Sound:
    """Engines for any length."""
    some = piece(min(length, 10 * RATE), rng)
    return np.resize(some, length)


def at_level(speech: Sound, decibels: float) -> Sound:
    """Speech that is so much louder than a pilot's."""
    return np.asarray(speech * (SPEECH * 10 ** (decibels / 20) / active_level(speech)), np.float32)


def said_by_people(folder: Path, rng: random.Random) -> Iterator[tuple[Sound, tuple[str, str]]]:
    """Transmissions of one to six words by people that nothing was fitted on, and a pair of
    state words that they do not say."""
    those = [
        one
        for one in speech_data.states(folder)
        if not speech_data.for_fitting(one.speaker, folder)
    ]
    while True:
        pair = rng.choice(speech_data.PAIRS)
        words = [one for one in those if one.word not in pair]
        strange = [one for one in words if not one.known]
        parts: list[Sound] = []
        for one in (rng.choice(rng.choice((words, strange))) for _ in range(rng.randint(1, 6))):
            parts.append(at_level(trimmed(to_samples(read_wav(one.file, RATE))), 0))
            parts.append(np.zeros(round(rng.uniform(0, 0.06) * RATE), dtype=np.float32))
        speech = over_the_radio(np.concatenate(parts))
        yield at_level(speech, rng.choice((-6.0, 0.0))), pair


def by_people(folder: Path, every: int) -> Iterator[Share]:
    """A radio's chatter by people, without enrolment and with the takes of somebody else."""
    commands = controls()
    for way in ("no enrolment", "own voice"):
        for engines in (False, True):
            rng = random.Random(f"{way} {engines}")
            crews = [Ears(crew, Gate(voice_detector())) for crew in recognisers(folder, way)]
            taken = of = unclear = 0
            those = said_by_people(folder, rng)
            for number, (sound, pair) in enumerate(islice(those, TRANSMISSIONS // every)):
                cockpit = Cockpit(crews[number % len(crews)], rng, engines)
                taken += cockpit.accepted(sound, state_window(pair[0], commands)) is not None
                unclear += cockpit.unclear
                of += 1
            where = f"a radio, people's words, {'in engines' if engines else 'in a room'}"
            yield Share(way, where, taken, of, OTHER_GOALS[way])
            yield Share(way, f"{where}: unclear", unclear, of)


def recognisers(folder: Path, way: str) -> list[list[Any]]:
    """Who hears: everybody's matcher, or those of some pilots who have enrolled the state words."""
    pocket = PocketRecogniser()
    if way == "no enrolment":
        return [[MatcherRecogniser(), pocket]]
    by: dict[str, dict[str, list[Path]]] = defaultdict(lambda: defaultdict(list))
    for one in speech_data.states(folder):
        if one.known and speech_data.for_fitting(one.speaker, folder):
            by[one.speaker][one.word].append(one.file)
    ready = [
        {word: [read_wav(file, RATE) for file in files[:3]] for word, files in words.items()}
        for words in by.values()
        if len(words) == 2 * len(speech_data.PAIRS) and min(map(len, words.values())) >= 3
    ]
    return [[MatcherRecogniser(Taken(takes)), pocket] for takes in ready[:6]]


def by_voices(folder: Path, asked: Sequence[Asked], every: int) -> Iterator[Share]:
    """A radio's chatter by synthetic voices, in the windows of the shipped lists."""
    for engines in (False, True):
        rng = random.Random(f"voices {engines}")
        cockpit = Cockpit(everybody(), rng, engines)
        taken = of = 0
        for voice in voices():
            for text in CHATTER[::every]:
                speech = to_samples(read_wav(speak_to_file(voice, text, folder), RATE))
                sound = at_level(over_the_radio(speech), rng.choice((-6.0, 0.0)))
                taken += cockpit.accepted(sound, rng.choice(asked).listen) is not None
                of += 1
        where = f"a radio, voices, {'in engines' if engines else 'in a room'}"
        yield Share("no enrolment", where, taken, of, OTHER_GOALS["no enrolment"])
        yield Share("no enrolment", f"{where}: unclear", cockpit.unclear, of)


def everybody() -> Ears:
    """The matcher, with PocketSphinx for a witness, without takes."""
    return Ears([MatcherRecogniser(), PocketRecogniser()], Gate(voice_detector()))


def typing(every: int) -> Iterator[Share]:
    """A keyboard beside the microphone."""
    commands = controls()
    for engines in (False, True):
        rng = random.Random(f"keys {engines}")
        cockpit = Cockpit(everybody(), rng, engines)
        taken, of = 0, TYPING // 2 // every
        for number in range(of):
            struck = keys(TYPING_SECONDS, 500 + number) * SPEECH * rng.choice((1.0, 2.0, 4.0))
            listen = state_window(speech_data.PAIRS[number % 5][0], commands)
            taken += cockpit.accepted(struck.astype(np.float32), listen) is not None
        where = f"a keyboard, {'in engines' if engines else 'in a room'}"
        yield Share("no enrolment", where, taken, of, NOISE_GOAL)
        yield Share("no enrolment", f"{where}: unclear", cockpit.unclear, of)


def own_words(folder: Path, asked: Sequence[Asked], every: int) -> Iterator[Share]:
    """What Runner itself says, through a headset into an open microphone, and in a room after
    the microphone has been shut."""
    style = load_voice(find_file("cockpit", ("voices",)))
    settings = VoiceSettings(style=style)
    crew = Crew([Speaker("pyttsx3", OWN_VOICE, style.rate)])
    rng = random.Random(9)
    cockpit = Cockpit(everybody(), rng)
    counts: dict[str, list[bool]] = defaultdict(list)
    try:
        turns = [(one.listen, text) for one in asked for text in one.lines]
        rng.shuffle(turns)
        for listen, text in turns[: len(turns) // every]:
            made = crew.say(text, folder)
            if not made:
                continue
            speech = to_samples(made[0])
            began, ended = BEFORE, BEFORE + len(speech) / RATE
            mouth = Mouth(settings, lambda _: None, lambda _: None)
            mouth._spoken.append(_Spoken(normalise(text), began, ended, made[0]))
            leak = at_level(speech, rng.choice(LEAKS))
            taken = cockpit.accepted(leak, listen)
            counts["own words, open microphone, not known again"].append(taken is not None)
            if taken is not None:
                taken = cockpit.accepted(leak, listen, disown=mouth.disown)
            counts["own words, open microphone"].append(taken is not None)
            room = in_room(at_level(speech, 0), rng.choice(ROOMS), rng)
            shut = (began, ended + settings.tail_ms / 1000)
            heard = cockpit.accepted(room, listen, shut)
            counts["own words, loudspeakers, microphone shut"].append(heard is not None)
    finally:
        crew.close()
    for what, taken_each in counts.items():
        goal = None if "known" in what else NOISE_GOAL
        yield Share("no enrolment", what, sum(taken_each), len(taken_each), goal)


def meanwhile(folder: Path, home: Path, asked: Sequence[Asked], every: int) -> Iterator[Share]:
    """People who answer while Runner speaks: how many of their answers it takes for its own."""
    style = load_voice(find_file("cockpit", ("voices",)))
    crew = Crew([Speaker("pyttsx3", OWN_VOICE, style.rate)])
    rng, commands = random.Random(12), controls()
    cockpit = Cockpit(everybody(), rng)
    people = [
        one
        for one in speech_data.states(home)
        if one.known and not speech_data.for_fitting(one.speaker, home)
    ]
    counts: dict[str, list[bool]] = defaultdict(list)
    try:
        for _ in range(MEANWHILE // every):
            text = rng.choice(rng.choice(asked).lines)
            one, made = rng.choice(people), crew.say(text, folder)
            if not made:
                continue
            played, word = to_samples(made[0]), at_level(to_samples(read_wav(one.file, RATE)), 0)
            at = rng.randrange(max(1, len(played) - len(word) // 2))
            mouth = Mouth(VoiceSettings(style=style), lambda _: None, lambda _: None)
            mouth._spoken.append(
                _Spoken(normalise(text), BEFORE, BEFORE + len(played) / RATE, made[0])
            )
            for what, leak in (("nothing let through", None), ("20 dB let through", -20.0)):
                both = np.zeros(max(len(played), at + len(word)), dtype=np.float32)
                both[at : at + len(word)] += word
                if leak is not None:
                    both[: len(played)] += at_level(played, leak)
                listen = state_window(one.word, commands)
                if cockpit.accepted(both, listen) is not None:
                    lost = cockpit.accepted(both, listen, disown=mouth.disown) is None
                    counts[f"answers meanwhile lost, {what}"].append(lost)
    finally:
        crew.close()
    for what, lost_each in counts.items():
        yield Share("no enrolment", what, sum(lost_each), len(lost_each))


def in_room(speech: Sound, seconds: float, rng: random.Random) -> Sound:
    """Speech as it comes back from a room in which sound falls by 60 dB in so many seconds."""
    length = round(seconds * 1.2 * RATE)
    noise = np.random.default_rng(rng.randrange(1 << 30)).normal(0, 1, length)
    answer = noise * 10 ** (-3 * np.arange(length) / RATE / seconds)
    answer /= np.sqrt((answer**2).sum())
    answer[0] += 1.0
    size = 1 << (len(speech) + length).bit_length()
    made = np.fft.irfft(np.fft.rfft(speech, size) * np.fft.rfft(answer, size), size)
    return np.asarray(made[: len(speech) + length], dtype=np.float32)


def shipped() -> list[Asked]:
    """The windows of the shipped lists that words answer, with what is said at each."""
    found = []
    for program, item, values, listen in shipped_items():
        lines = item_lines(program, item, 1, values)
        said = (lines.prompt.speech, lines.first_wrong.speech)
        found.append(Asked(listen, tuple(text for text in said if text)))
    return found


def rows(folder: Path, every: int = 1) -> Iterator[Share]:
    """All of it."""
    asked = shipped()
    with tempfile.TemporaryDirectory() as name:
        yield from typing(every)
        yield from by_people(folder, every)
        yield from by_voices(Path(name), asked, every)
        yield from own_words(Path(name), asked, every)
        yield from meanwhile(Path(name), folder, asked, every)


def main() -> int:
    """Print the rows."""
    folder = speech_data.home()
    if folder is None:
        print("RUNNER_SPEECH_DATA names no folder of recordings", file=sys.stderr)
        return 2
    every = next((int(a[8:]) for a in sys.argv if a.startswith("--every=")), 1)
    missed = []
    for row in rows(folder, every):
        print(row, flush=True)
        if row.missed:
            missed.append(f"{row.way}: {row.what}")
    if "--check" in sys.argv and missed:
        print("missed: " + "; ".join(missed))
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
