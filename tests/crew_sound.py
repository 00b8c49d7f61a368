"""Two people with a voice, a microphone and a loudspeaker each, who fly one run together.

Each is a real ``runner crew`` that speaks aloud and listens to its own microphone by name.
What a person says is recorded speech played into that microphone alone, and said only when
that person's own loudspeaker has asked for it.
"""

from __future__ import annotations

import contextlib
import copy
import json
import os
import re
import shutil
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from crew_steps import Step
from runner.checklist.load import find_file
from runner.phrasing.normal import normalise
from runner.phrasing.numeral_words import DIGIT_WORDS
from sound import SoundSystem, voices

VOICES = {"Anna": ("flite:slt", 1.1), "Ben": ("flite:rms", 1.25)}
"""Who speaks, by their recorded voice and how much faster than it was recorded."""

TAKES = (0.0, 0.04)
"""By how much a take's tempo differs from how its speaker answers."""

FURTHER = 0.6
"""How loud a voice is at the next person's microphone, as PulseAudio counts: 13 dB less."""

SLOWER = 1.0
"""How fast a number is said, digit by digit."""

LONGEST_SPEECH = 120.0
"""Seconds within which a question must have been put: before the last may come a briefing."""

PAUSE = 0.4
"""Seconds of silence about a take."""

TRIES = 3
"""So many times something is said before it is typed; a number once less."""

PATIENCE = 3.0
"""Seconds after the end of an answer within which it must have been heard as something."""

AFTER_HEARD = 1.5
"""Seconds after that within which something must come of it."""

RATE = 420
"""Words a minute that the machines speak here."""


@dataclass
class Count:
    """How often things were said until they were taken."""

    tries: Counter[int] = field(default_factory=Counter)
    typed: list[str] = field(default_factory=list)
    numbers: Counter[int] = field(default_factory=Counter)
    seconds: float = 0.0

    def table(self) -> str:
        """In two lines."""
        first = ", ".join(f"{n}: {self.tries[n]}" for n in sorted(self.tries))
        second = ", ".join(f"{n}: {self.numbers[n]}" for n in sorted(self.numbers))
        return (
            f"{self.seconds:.0f} s; words taken at try {first or 'none'}; numbers at try "
            f"{second or 'none'}; typed {len(self.typed)}: {', '.join(self.typed)}"
        )


def why_no_people() -> str:
    """Why nobody can speak here; empty where they can."""
    if shutil.which("sox") is None:
        return "no sox to change the voices with"
    missing = [voice for voice, _ in VOICES.values() if voice not in voices()]
    return f"no voice {', '.join(missing)}" if missing else ""


def hurried(folder: Path) -> Path:
    """The shipped voice style, spoken twice as fast."""
    file = folder / "hurried.yaml"
    shipped = find_file("cockpit", ("voices",)).read_text("utf-8")
    file.write_text(shipped.replace("rate: 165", f"rate: {RATE}"), "utf-8")
    return file


class Cockpit:
    """One person's machine, its loudspeaker and its microphone; ``home`` is where the takes are.

    ``aloud`` are the utterances that its loudspeaker has spoken to their end, and ``said`` is how
    often its person has said or typed something.
    """

    def __init__(
        self, sound: SoundSystem, folder: Path, name: str, home: Path, *arguments: str
    ) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.sound = sound
        self.name = name
        self.device = device_of(folder, name)
        self.said = 0
        sound.seat(self.device)
        self._overheard: tuple[str, ...] = ()
        self.logbook = folder / f"{name}.sqlite3"
        self.lines: list[str] = []
        self._trace = folder / f"{name}.jsonl"
        self._marks_read = 0
        self._texts: dict[int, str] = {}
        self.aloud: dict[int, str] = {}
        self.last: dict[str, float] = {}
        self._playing: list[subprocess.Popen[bytes]] = []
        self._keys, terminal = os.openpty()
        self.process = subprocess.Popen(
            [
                *(sys.executable, "-u", "-m", "runner", *arguments),
                *("--logbook", str(self.logbook), "--screen", "plain"),
                *("--speaker-name", f"ears-{self.device}"),
            ],
            stdin=terminal,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            env={
                **os.environ,
                **sound.environment,
                "XDG_DATA_HOME": str(home),
                "RUNNER_TRACE": str(self._trace),
            },
        )
        os.close(terminal)
        threading.Thread(target=self._read, daemon=True).start()

    def beside(self, folder: Path, name: str) -> Cockpit:
        """Somebody else at the same machine, with a microphone of their own. What one of the two
        says is heard by the other's microphone too, from further away."""
        other = copy.copy(self)
        other.name, other.device = name, device_of(folder, name)
        self.sound.seat(other.device)
        self._overheard, other._overheard = (other.device,), (self.device,)
        return other

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.lines.append(line.rstrip())

    def look(self) -> None:
        """Take in what the program has traced."""
        if not self._trace.exists():
            return
        with self._trace.open("rb") as file:
            file.seek(self._marks_read)
            for line in file:
                if not line.endswith(b"\n"):
                    break
                self._marks_read += len(line)
                mark: dict[str, Any] = json.loads(line)
                if mark["what"] == "said":
                    self._texts[mark["utterance"]] = mark["text"]
                elif mark["what"] == "ended" and mark["completed"]:
                    self.aloud[mark["utterance"]] = self._texts.get(mark["utterance"], "")
                elif mark["what"] in ("ready", "heard"):
                    self.last[mark["what"]] = mark["monotonic"]

    def wait_for(self, wanted: str, seconds: float = 20.0, since: int = 0) -> str:
        """Wait until a line in which the pattern is found is printed."""
        return self.wait_for_any((wanted,), seconds, since)

    def wait_for_any(self, wanted: tuple[str, ...], seconds: float, since: int = 0) -> str:
        """The first line, from number ``since`` on, in which one of the patterns is found."""
        end = time.monotonic() + seconds
        pattern = re.compile("|".join(wanted))
        at = since
        while True:
            for line in self.lines[at:]:
                at += 1
                if pattern.search(line):
                    return line
            if time.monotonic() > end:
                told = "\n".join(self.lines[-30:])
                raise AssertionError(f"{self.name} never printed {pattern.pattern!r}:\n{told}")
            time.sleep(0.01)

    def wait_until_ready(self, seconds: float = 60.0) -> None:
        """Wait until an answer would be heard."""
        end = time.monotonic() + seconds
        while "ready" not in self.last:
            self.look()
            assert time.monotonic() < end, f"{self.name} never was ready:\n" + "\n".join(self.lines)
            time.sleep(0.05)

    def answered(self, text: str, wanted: tuple[str, ...]) -> str:
        """Say something; the line that holds one of the patterns, '' where nothing comes of it."""
        since = len(self.lines)
        began = time.monotonic()
        ends = self.says(text)
        while True:
            self.look()
            heard = self.last.get("heard", 0.0)
            end = heard + AFTER_HEARD if heard > began else ends + PATIENCE
            with contextlib.suppress(AssertionError):
                return self.wait_for_any(wanted, min(0.2, max(0.0, end - time.monotonic())), since)
            if time.monotonic() > end:
                return ""

    def wait_until_asked(
        self, asked: tuple[str, ...], after: int, seconds: float = LONGEST_SPEECH
    ) -> int:
        """Wait until this machine's own loudspeaker has put a question of these beginnings.

        Gives the utterance's number; only those behind ``after`` count.
        """
        end = time.monotonic() + seconds
        while True:
            self.look()
            for utterance in sorted(self.aloud, reverse=True):
                if utterance > after and any(a in self.aloud[utterance] for a in asked or ("",)):
                    return utterance
            if time.monotonic() > end:
                told = "\n".join(self.lines[-30:])
                raise AssertionError(f"{self.name} was never asked {asked} aloud:\n{told}")
            time.sleep(0.01)

    def says(self, text: str) -> float:
        """Say something into this person's own microphone; the second at which it ends."""
        file = spoken(self.sound, self.name, text)
        self.said += 1
        self._playing = [one for one in self._playing if one.poll() is None]
        self._playing.append(self.sound.begin(file, self.device))
        for other in self._overheard:
            self._playing.append(self.sound.begin(file, other, FURTHER))
        return time.monotonic() + seconds_of(file)

    def types(self, text: str) -> None:
        """Type a line at this person's own machine."""
        self.said += 1
        os.write(self._keys, f"{text}\n".encode())

    def end(self, seconds: float = 30.0) -> int:
        """Wait for the end; the exit status."""
        return self.process.wait(seconds)

    def stop(self) -> None:
        """End it, however it stands."""
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait()
        for one in self._playing:
            one.wait()
        os.close(self._keys)


def device_of(folder: Path, name: str) -> str:
    """What that person's microphone and loudspeaker are called by."""
    return f"{name}-{folder.name}".lower()


def crew_command(folder: Path, name: str, *arguments: str) -> tuple[str, ...]:
    """The words for a machine of one of a crew, who listens to their own microphone."""
    own = ("--name", name, "--microphone-name", f"mic-{device_of(folder, name)}")
    return ("crew", *arguments, *own)


def spoken(
    sound: SoundSystem, name: str, text: str, faster: float = 0.0, pause: float = 0.0
) -> Path:
    """How that person says a text, with a pause of so many seconds before and after it."""
    voice, tempo = VOICES[name]
    tempo = SLOWER if "," in text else tempo
    whole = sound.recording(f"{voice}@0@{tempo + faster:.2f}", text)
    file = whole.with_name(f"{whole.stem}-{pause}.wav")
    if not file.exists():
        cut = ("silence", "1", "0.02", "0.5%", "reverse")
        pad = ("pad", str(pause), str(pause))
        subprocess.run(["sox", str(whole), str(file), *cut, *cut, *pad], check=True)
    return file


def seconds_of(file: Path) -> float:
    """How long a WAV file lasts, of 16 bits, mono, 16 kHz."""
    return (file.stat().st_size - 44) / 32_000


def enrol(
    sound: SoundSystem,
    folder: Path,
    name: str,
    procedures: str,
    said: set[str],
    shared: bool = False,
) -> Path:
    """Enrol takes of a person's voice for what that person will say; the data folder.

    That is their own, or ``shared`` with others, who go by their names.
    """
    words = {normalise(text) for text in said if "," not in text}
    digits = {word for text in said if "," in text for word in text.split(", ")} | set(DIGIT_WORDS)
    source = folder / f"{name}-takes"
    home = folder / ("shared-data" if shared else f"{name}-data")
    named = ("--name", name) if shared else ()
    for phrase in words | digits:
        place = source / phrase.replace(" ", "-")
        place.mkdir(parents=True, exist_ok=True)
        for number, faster in enumerate(TAKES if phrase in digits else TAKES[:1]):
            (place / f"{number}.wav").write_bytes(
                spoken(sound, name, phrase, faster, PAUSE).read_bytes()
            )
    done = subprocess.run(
        [
            *(sys.executable, "-m", "runner", "voice", "enrol", procedures),
            *("--from-folder", str(source), *named),
        ],
        capture_output=True,
        text=True,
        check=False,
        stdin=subprocess.DEVNULL,
        timeout=300,
        env={**os.environ, "XDG_DATA_HOME": str(home)},
    )
    # 1: what is never said here has no takes.
    assert done.returncode in (0, 1), done.stdout + done.stderr
    refused = [line for line in done.stdout.splitlines() if line.startswith("not taken")]
    assert "taken: " in done.stdout and not refused, done.stdout
    return home


def fly(
    flight: list[Step],
    people: dict[str, Cockpit],
    roles: dict[str, str],
    before: Callable[[Step], None],
) -> Count:
    """Both say what is theirs, each when their own machine has asked aloud.

    ``roles`` is who holds each role; what anybody may answer, the first does. ``before`` is
    called when something has been asked and not yet answered.
    """
    count = Count()
    began = time.monotonic()
    first = next(iter(people))
    after = 0
    for step in flight:
        who = roles.get(step.role, first)
        others = [name for name in people if name != who]
        for name in (*others, who) if step.both else (who,):
            agreed = step.both and name != who
            asked = people[name].wait_until_asked(step.asked or (f"ext, {step.title}",), after)
            before(step)
            _answer(step, people[name], agreed, count)
            after = asked - (1 if agreed else 0)
    count.seconds = time.monotonic() - began
    return count


def _answer(step: Step, person: Cockpit, first_of_two: bool, count: Count) -> None:
    """Say it until it is taken, or type it at last."""
    if not step.asked:
        taken: tuple[str, ...] = (f"^{re.escape(step.title)}: begun",)
    elif step.whole:
        taken = (f"^{re.escape(step.title)}: (flow )?complete",)
    elif first_of_two:
        taken = (r" too\. ",)
    else:
        taken = tuple(rf"^{re.escape(lead)}[^:]*: (?!heard )" for lead in step.asked)
    for attempt in range(1, TRIES + (0 if step.number else 1)):
        found = person.answered(step.said, (*taken, "not clear", ": heard ", "does not count"))
        if any(re.search(one, found) for one in taken):
            (count.numbers if step.number else count.tries)[attempt] += 1
            return
        if "does not count" in found:
            # Nothing is asked anew then until the question comes again.
            time.sleep(1.0)
    count.typed.append(f"{person.name} {step.title}/{''.join(step.asked[:1])} {step.said!r}")
    since = len(person.lines)
    person.types(step.typed)
    person.wait_for_any(taken, 10.0, since)
