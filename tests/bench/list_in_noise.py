"""The before-take-off list by voice in engine noise: what was said, and what was decided.

    python tests/bench/list_in_noise.py [--runs 50] [--snr 10] [--recogniser matcher] [--seed 1]
        [--show]

One answer in four is wrong (the opposite state, another number, another item's answer),
chatter, or silence. The frames go straight into the gate, the recognisers and the judge; the
engine is flown on a virtual clock. The pilots are synthetic voices: flite's and festival's,
at another pitch and tempo, and espeak-ng's with accents that the prototypes do not have. A
pilot's own voice is left out of the prototypes, because it would match itself bit for bit.
Exits 1 where an opposite state or a wrong number was taken, or more than 4 % of what is no
answer. ``--show`` prints every utterance. Needs sox.
"""

from __future__ import annotations

import argparse
import asyncio
import os
import random
import shutil
import sys
import tempfile
from collections import Counter, defaultdict
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

from flying import WEIGHT  # noqa: E402
from pilots import ACCENTS, CHATTER, SPEECH, Pilot, drone, leave_out, near  # noqa: E402
from runner.checklist.load import find_file, load_procedures, load_voice  # noqa: E402
from runner.checklist.model import Choice, Readback  # noqa: E402
from runner.engine.effects import Listen  # noqa: E402
from runner.engine.events import RULES_VERSION, Heard, RunStarted, Snapshot  # noqa: E402
from runner.engine.lines import form_of  # noqa: E402
from runner.engine.looking import look  # noqa: E402
from runner.engine.program import Program  # noqa: E402
from runner.engine.view import View  # noqa: E402
from runner.figures.given import read_given  # noqa: E402
from runner.figures.sheet import Sheet  # noqa: E402
from runner.flight import Flight  # noqa: E402
from runner.phrasing.normal import normalise  # noqa: E402
from runner.phrasing.numbers import say_number  # noqa: E402
from runner.voice.ears import Ears, Outcome  # noqa: E402
from runner.voice.recogniser import choose  # noqa: E402
from runner.voice.session import voice_detector  # noqa: E402
from runner.voice.text import NUMBER, pattern_of, role_of  # noqa: E402
from runner.voice.utterance import FRAME_BYTES, Gate  # noqa: E402
from sound import voices  # noqa: E402

RATE = 16_000
LIST = "before-takeoff"
WRONG_SHARE = 0.25
TRIES = 6
"""After so many attempts the pilot presses the key."""

KINDS = ("right", "opposite state", "other number", "other item", "chatter", "silence")
DECIDED = ("right", "wrong state", "wrong number", "other", "unclear", "rejected", "nothing")


@dataclass(slots=True)
class Attempts:
    """How often each item was answered rightly until it was taken; which were given by key."""

    counts: defaultdict[str, list[int]] = field(default_factory=lambda: defaultdict(list))
    keyed: Counter[str] = field(default_factory=Counter)
    numbers: set[str] = field(default_factory=set)

    def add(self, run: Run) -> None:
        """Those of one run."""
        for item, count in run.attempts.items():
            self.counts[item].append(count)
        self.keyed.update(run.keyed)
        self.numbers |= run.numbers

    def join(self, other: Attempts) -> None:
        """Those of further runs."""
        for item, counts in other.counts.items():
            self.counts[item] += counts
        self.keyed.update(other.keyed)
        self.numbers |= other.numbers

    def tries(self, numbers: bool) -> str:
        """How many tries a right answer needed, for words or for numbers."""
        those = [item for item in self.counts if (item in self.numbers) is numbers]
        counts = Counter(count for item in those for count in self.counts[item])
        pressed = sum(self.keyed[item] for item in those)
        counts[TRIES] -= pressed
        shown = (f"{counts[n]} at try {n}" for n in range(1, TRIES + 1) if counts[n] > 0)
        what = "numbers" if numbers else "words"
        return f"right {what} taken: {', '.join(shown)}; {pressed} by key after {TRIES}"


@dataclass(frozen=True, slots=True)
class Said:
    """One utterance and what came of it; ``heard`` is the judge's text."""

    run: int
    item: str
    kind: str
    text: str
    voice: str
    pitch: int
    tempo: float
    decided: str
    heard: str
    reason: str

    @property
    def fault(self) -> str:
        """The fault that this is, if it is one."""
        taken = self.decided in DECIDED[:4]
        if self.kind == "opposite state" and self.decided == "right":
            return "opposite state"
        if self.kind == "right" and self.decided == "wrong state":
            return "opposite state"
        if self.kind in ("right", "other number") and self.decided == "wrong number":
            return "wrong number" if self.heard != normalise(self.text) else ""
        if self.kind == "other number" and self.decided == "right":
            return "wrong number"
        if self.kind in ("other item", "chatter", "silence") and taken:
            return "no answer taken"
        return "other taken" if self.decided == "other" else ""


class Blank:
    """A screen that shows nothing."""

    on_key: Any
    on_text: Any
    on_talk: Any
    on_chart: Any

    def __init__(self) -> None:
        self._stopped = asyncio.Event()

    async def run(self) -> None:
        await self._stopped.wait()

    def show(self, view: View) -> None: ...
    def said(self, text: str) -> None: ...
    def note(self, text: str, kind: str) -> None: ...
    def trouble(self, text: str) -> None: ...
    def level(self, dbfs: float, state: str) -> None: ...

    def stop(self) -> None:
        self._stopped.set()


class Listening:
    """A voice that only listens, in this process."""

    def __init__(self, ears: Ears) -> None:
        self.ears = ears
        self.window: Listen | None = None

    def listen(self, listen: Listen) -> None:
        self.window = listen
        self.ears.open(listen)

    def close(self, window: int) -> None:
        if self.window is not None and self.window.window <= window:
            self.window = None
        self.ears.close(window)

    def prepare(self, speeches: Sequence[str]) -> None: ...
    def wake(self) -> None: ...
    def say(self, utterance: int, speech: str, urgency: str = "routine") -> None: ...
    def tone(self, name: str) -> None: ...
    def hush(self) -> None: ...
    def push_to_talk(self, pressed: bool) -> None: ...


class Run:
    """One flight of the list by one pilot."""

    def __init__(self, number: int, options: argparse.Namespace, folder: Path) -> None:
        self.number = number
        self.rng = random.Random(f"{options.seed} {number}")
        crew = [*voices(), *ACCENTS]
        self.pilot = Pilot(crew[number % len(crew)], self.rng, folder)
        self.stranger = Pilot(crew[(number * 3 + 1) % len(crew)], self.rng, folder)
        leave_out(self.pilot.voice)
        recognisers = choose(options.recogniser, None, ())
        self.ears = Ears(recognisers, Gate(voice_detector()))
        self.voice = Listening(self.ears)
        noise = SPEECH / 10 ** (options.snr / 20)
        self.noise = drone(20.0, self.rng) * noise
        self.place = 0
        self.flight = self._flight()
        self.said: list[Said] = []
        self.attempts: Counter[str] = Counter()
        self.keyed: list[str] = []
        self.numbers: set[str] = set()
        self.strayed = 0

    def _flight(self) -> Flight:
        path = find_file("whimbrel-four", ("checklists",))
        procedures = load_procedures(path)
        style = load_voice(find_file("cockpit", ("voices",)))
        given = read_given(procedures.aircraft, [WEIGHT])
        sheet = Sheet(procedures.aircraft)
        worked = sheet.work_out(given)
        empty = Snapshot("", "", "")
        started = RunStarted(
            at=0,
            procedures=empty,
            aircraft=empty,
            voice=empty,
            figures=tuple(worked.figures.values()),
            phase=LIST,
            roles=procedures.aircraft.roles,
            given=tuple(sorted(given.items())),
            rules=RULES_VERSION,
        )
        self.program = Program(procedures, style, ("", "", ""))
        return Flight(
            [started],
            program=self.program,
            sheet=sheet,
            worked=worked,
            given=given,
            screen=Blank(),
            voice=self.voice,
            fast=True,
        )

    async def fly(self) -> None:
        """Answer until the list is at its end."""
        flying = asyncio.create_task(self.flight.fly())
        await settled()
        await self.hear(np.zeros(RATE * 2, dtype=np.float32))
        while not flying.done() and self.flight.finish is None:
            await settled()
            view = look(self.flight.state)
            item, window = view.current, self.voice.window
            if item is None or window is None or self.flight.state.asking != "item":
                if self.astray():
                    continue
                if not self.flight.clock.skip_to_timer():
                    break
                continue
            if self.program.list_of[item.id].id != LIST:
                # A list that nobody called: what brought it is in the table.
                break
            if self.attempts[item.id] >= TRIES:
                self.keyed.append(item.id)
                self.flight.pilot.key("done")
                continue
            await self.answer(item.id, window)
        self.flight.interrupt()
        await flying
        self.pilot.close()
        self.stranger.close()

    def astray(self) -> bool:
        """Back to the list by key, where a control was taken that nobody said."""
        back = {"standing by": "resume", "offer": "negative", "call": "negative"}
        key = "unmute" if self.flight.state.muted else back.get(self.flight.state.asking)
        self.strayed += key is not None
        if key is None or self.strayed > TRIES:
            return False
        self.flight.pilot.key(key)
        return True

    async def answer(self, item: str, window: Listen) -> None:
        """Say something at an item, mostly what is right."""
        kind = "right"
        if self.rng.random() < WRONG_SHARE:
            kind = self.rng.choice(self.kinds(item, window))
        text = self.text(kind, item, window)
        who = self.stranger if kind == "chatter" else self.pilot
        sound, tempo = np.zeros(RATE, dtype=np.float32), 1.0
        if text:
            sound, tempo = who.say(text)
        if window.number is not None:
            self.numbers.add(item)
        if kind == "right":
            self.attempts[item] += 1
        found = await self.hear(np.concatenate([self.gap(0.5), sound, self.gap(1.1)]))
        decisions = [(self.decided(o, item, w), o) for o, w in found]
        decisions.sort(key=lambda one: DECIDED.index(one[0]))
        taken = [one for one in decisions if one[0] in DECIDED[:4]] or decisions[:1]
        recipe = (self.number, item, kind, text, who.voice, who.pitch, tempo)
        for decided, outcome in taken:
            verdict = outcome.verdict
            self.said.append(Said(*recipe, decided, verdict.text or "", verdict.reason or ""))
        if not taken:
            self.said.append(Said(*recipe, "nothing", "", ""))

    def gap(self, seconds: float) -> NDArray[np.float32]:
        """Nobody speaks."""
        return np.zeros(round(seconds * RATE), dtype=np.float32)

    async def hear(self, sound: NDArray[np.float32]) -> list[tuple[Outcome, Listen]]:
        """A sound in the drone; gives the outcomes and the window of each."""
        at = (self.place + np.arange(len(sound))) % len(self.noise)
        self.place += len(sound)
        hiss = self.rng.randrange(1 << 30)
        mixed = sound + self.noise[at] + np.random.default_rng(hiss).normal(0, 4, len(sound))
        data = np.clip(mixed, -32_767, 32_767).astype("<i2").tobytes()
        found: list[tuple[Outcome, Listen]] = []
        clock = self.flight.clock
        for place in range(0, len(data) - FRAME_BYTES + 1, FRAME_BYTES):
            clock.spend(20)
            window = self.voice.window
            outcome = self.ears.take(data[place : place + FRAME_BYTES], clock.now() / 1000)
            if outcome is not None and window is not None and window.window == outcome.window:
                found.append((outcome, window))
                now, began = clock.now(), round(outcome.began * 1000)
                ended = round(outcome.ended * 1000)
                self.flight.post(
                    Heard(now, outcome.window, began, ended, outcome.proposals, outcome.verdict)
                )
                await settled()
            elif place % (FRAME_BYTES * 10) == 0:
                await settled()
        return found

    def kinds(self, item: str, window: Listen) -> list[str]:
        """What may be said wrongly at an item."""
        kinds = ["other item", "chatter", "silence"]
        if window.number is not None and self.figure(item) is not None:
            kinds.append("other number")
        if any(c.role == "competitor" for c in window.candidates):
            kinds.append("opposite state")
        return kinds

    def figure(self, item: str) -> Any:
        """The figure that an item reads back."""
        response = self.program.items[item].response
        return (
            self.flight.state.figures[response.figure] if isinstance(response, Readback) else None
        )

    def text(self, kind: str, item: str, window: Listen) -> str:
        """What is said."""
        if kind == "silence":
            return ""
        if kind == "chatter":
            return self.rng.choice(CHATTER)
        if kind == "other item":
            return self.other_item(item, window)
        if kind == "opposite state":
            return self.rng.choice(texts(window, "competitor", ""))
        figure = self.figure(item)
        if figure is not None:
            form = form_of(figure)
            value = figure.value
            if kind == "other number":
                value = self.rng.choice(list(near(value)))
            return say_number(value, form, self.rng.choice(("cockpit", "cockpit", "faa")))
        response = self.program.items[item].response
        # At a choice every option is right; the list is to stay the one for a dry runway.
        wanted = f"option:{response.options[0][0]}" if isinstance(response, Choice) else "answer"
        return self.rng.choice(texts(window, "answer", wanted))

    def other_item(self, item: str, window: Listen) -> str:
        """An answer of another item of the list, which is none of this one."""
        here = {text for c in window.candidates for text in pattern_of(c.pattern).texts(60)}
        found = []
        for other in self.program.list_of[item].items:
            response = other.response
            pattern = getattr(response, "pattern", None)
            if pattern is not None and not pattern.figures and other.id != item:
                found += [t for t in pattern_of(pattern.source).texts(4) if t not in here]
        return self.rng.choice(found)

    def decided(self, outcome: Outcome, item: str, window: Listen) -> str:
        """An outcome as a column of the table."""
        verdict = outcome.verdict
        if verdict.decision != "accept":
            return "unclear" if verdict.decision == "unclear" else "rejected"
        if verdict.candidate == NUMBER:
            figure = self.figure(item)
            return (
                "right" if figure is not None and verdict.value == figure.value else "wrong number"
            )
        role = role_of(verdict.candidate, window)
        response = self.program.items[item].response
        if role == "answer" and isinstance(response, Choice):
            right = verdict.candidate == f"option:{response.options[0][0]}"
            return "right" if right else "wrong state"
        return {"answer": "right", "competitor": "wrong state"}.get(role, "other")


def texts(window: Listen, role: str, wanted: str) -> list[str]:
    """The first ways of saying the candidates of a role."""
    return [
        text
        for c in window.candidates
        if c.role == role and (not wanted or c.id == wanted)
        for text in pattern_of(c.pattern).texts(60)[:4]
    ]


async def settled() -> None:
    """Let the flight carry out all that it has begun."""
    for _ in range(12):
        await asyncio.sleep(0)


def fly(number: int, options: argparse.Namespace, folder: Path) -> tuple[list[Said], Attempts]:
    """One run: what was said, and how often."""
    run, attempts = Run(number, options, folder), Attempts()
    asyncio.run(run.fly())
    attempts.add(run)
    return run.said, attempts


def table(said: Sequence[Said]) -> str:
    """What was said against what was decided."""
    counts = Counter((one.kind, one.decided) for one in said)
    rows = [f"{'said':16}" + "".join(f"{name:>14}" for name in DECIDED)]
    for kind in KINDS:
        rows.append(f"{kind:16}" + "".join(f"{counts[kind, name]:14}" for name in DECIDED))
    return "\n".join(rows)


def main() -> int:
    """Fly all runs and print what came of them."""
    parser = argparse.ArgumentParser(description="The before-take-off list in engine noise.")
    parser.add_argument("--runs", type=int, default=50)
    parser.add_argument("--snr", type=float, default=10.0)
    parser.add_argument("--first", type=int, default=0, help="number of the first run")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--recogniser", default="matcher")
    parser.add_argument("--processes", type=int, default=os.cpu_count())
    parser.add_argument("--show", action="store_true")
    options = parser.parse_args()
    if not voices() or shutil.which("sox") is None:
        print("needs sox, and voices of flite or festival", file=sys.stderr)
        return 2
    said: list[Said] = []
    attempts = Attempts()
    with tempfile.TemporaryDirectory() as name, ProcessPoolExecutor(options.processes) as crew:
        # Takes of whoever uses this machine would be compared with.
        os.environ["XDG_DATA_HOME"] = name
        places = range(options.first, options.first + options.runs)
        jobs = [crew.submit(fly, n, options, Path(name)) for n in places]
        for done, job in enumerate(as_completed(jobs), 1):
            some, tried = job.result()
            said += some
            attempts.join(tried)
            faults = [one for one in some if one.fault]
            print(f"{done} runs done, {len(faults)} faults in this one", file=sys.stderr)
            for one in faults:
                print(f"{one.fault}: {one}", file=sys.stderr, flush=True)
    return report(said, attempts, options)


def report(
    said: Sequence[Said],
    attempts: Attempts,
    options: argparse.Namespace,
) -> int:
    """Print everything; 1 where a goal is missed."""
    if options.show:
        for one in said:
            print(one)
    print(f"{options.recogniser}, {options.runs} runs, drone at {options.snr:g} dB")
    print(table(said))
    print("\n" + attempts.tries(numbers=False))
    print(attempts.tries(numbers=True))
    print(f"\n{'attempts':30}{'mean':>6}{'worst':>6}{'by key':>8}")
    for item, counts in attempts.counts.items():
        mean = sum(counts) / len(counts)
        print(f"{item:30}{mean:6.1f}{max(counts):6}{attempts.keyed[item]:8}")
    faults = Counter(one.fault for one in said if one.fault)
    outside = sum(one.kind in KINDS[3:] for one in said)
    taken = faults["no answer taken"]
    print(
        f"\nopposite states taken {faults['opposite state']}, wrong numbers "
        f"{faults['wrong number']} (goals 0 and 0), of what is no answer {taken} of {outside} "
        f"({taken / max(1, outside):.1%}, goal 4%), controls, lists and moments not said "
        f"{faults['other taken']}"
    )
    for one in said:
        if one.fault:
            print(f"{one.fault}: {one}")
    return int(bool(faults["opposite state"] or faults["wrong number"] or taken > 0.04 * outside))


if __name__ == "__main__":
    sys.exit(main())
