"""A drill from its first question to its last: events in, effects out, no I/O.

The events and effects are those of a run (``runner.engine``), so that the same screens and
voices serve; ``Graded`` is a drill's own: an answer with its rating, to be stored. Which
card is next is for ``runner.practice.queue`` to say, when it comes back for
``runner.practice.spacing``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from math import ceil
from random import Random

from runner.engine.effects import (
    CancelTimer,
    CloseWindow,
    Effect,
    Finish,
    Hush,
    Listen,
    Note,
    Say,
    SetTimer,
    Tone,
)
from runner.engine.events import Event, Heard, InputEnded, Keyed, Paused, Said, TimerFired
from runner.engine.lines import EMPTY, Line, join, said
from runner.engine.program import Program
from runner.engine.view import HeardView, View
from runner.errors import RunnerError
from runner.figures.sheet import Sheet
from runner.practice import wording
from runner.practice.cards import Card
from runner.practice.exercise import MORE, Exercise, Outcome
from runner.practice.grading import Answered, Graded, grade
from runner.practice.making import make
from runner.practice.queue import Waiting, pick, tiers
from runner.practice.spacing import Progress
from runner.practice.verification import Verification

SILENCE = "silence"
"""The timer after which silence counts. The engine's own has the same name: there is one."""

TYPED = 2
"""Typing is given so many times as long as speaking."""

MISTYPED = 0.85
"""From this likeness on a typed line may be an answer mistyped, and is asked for again once."""

UNCLEAR = 2
"""So often an answer that was not clear is asked for again, before it counts as none."""

QUICKEST = 300
"""Milliseconds: who answers before the question has ended has not taken less."""

CONTROLS = ("say_again", "stand_by", "hint", "tell", "end", "mute")
"""The control phrases of every question."""

HELP = (
    "“hint” (key w); “I don't know” (o); “end the drill” (q). "
    "A co-pilot's answer: “I disagree” (d), “check” (space)."
)
"""Shown when a drill begins."""

KEYS = {
    "say_again": "say_again",
    "stand_by": "stand_by",
    "resume": "resume",
    "why": "hint",
    "later": "tell",
    "end": "end",
    "mute": "mute",
    "unmute": "unmute",
    "disagree": "disagree",
}
"""What the keys of a run do in a drill."""


Action = Effect | Graded


class Drill:
    """One session. ``began`` is the wall clock at millisecond 0 of it (UTC).

    It ends after ``questions`` (0: no such end) or the first answer after ``minutes`` (0: no
    such end), or when nothing is left. The same seed, cards and events give the same drill.
    """

    def __init__(
        self,
        program: Program,
        sheet: Sheet,
        given: Mapping[str, float | str],
        deck: Sequence[Card],
        progress: Mapping[str, Progress],
        *,
        began: datetime,
        seed: int,
        questions: int = 0,
        minutes: float = 0.0,
        typed: bool = False,
    ) -> None:
        self._program = program
        self._sheet = sheet
        self._given = dict(given)
        self._figures = sheet.work_out(given).figures
        self._cards = {card.id: card for card in deck}
        self._progress = dict(progress)
        self._began = began.astimezone(UTC)
        self._random = Random(seed)
        self._questions = questions
        self._minutes = minutes
        self._patience = TYPED if typed else 1
        self._at = 0
        self._out: list[Action] = []
        self._card: Card | None = None
        self._exercise: Exercise | None = None
        self._verification: Verification | None = None
        self._pending: Answered | None = None
        self._last: Waiting | None = None
        self._asked_cards: set[str] = set()
        self._missed: list[str] = []
        self._right = 0
        self._asked = 0
        self._hints = 0
        self._unclear = 0
        self._window = 0
        self._utterance = 0
        self._prompting = 0
        self._speaking: set[int] = set()
        self._question_ended: int | None = None
        self._standing_by = False
        self._muted = False
        self._prompt = ""
        self._last_said = ""
        self._heard: HeardView | None = None
        self.finished = False
        self.complete = False

    def waiting(self) -> tuple[int, int]:
        """How many cards are due now, and how many are new."""
        due, new, _ = tiers([c.waiting for c in self._cards.values()], self._progress, self._now)
        return len(due), len(new)

    def begin(self, at: int) -> list[Action]:
        """The first question, after how many are due."""
        self._at = at
        due, new = self.waiting()
        count = wording.count
        self._out.append(Note(HELP, "advice"))
        self._ask(wording.line(self._program, "drill_begins", due=count(due), new=count(new)))
        return self._take_out()

    def take(self, event: Event) -> list[Action]:
        """What comes of an event. After the end nothing does."""
        self._at = max(self._at, event.at)
        if isinstance(event, Said):
            self._speaking.discard(event.utterance)
        if self.finished:
            return []
        if isinstance(event, InputEnded | Paused):
            self._finish(EMPTY, complete=False)
        elif isinstance(event, Keyed) and event.action == "end":
            self._control("end")
        elif self._verification is not None:
            self._verify(event)
        else:
            self._event(event)
        return self._take_out()

    def view(self) -> View:
        """What a screen shows now."""
        if self._verification is not None and not self.finished:
            return replace(self._verification.view(), procedures=self._title())
        number = self._exercise.window()[1] if self._exercise and not self.finished else None
        return View(
            aircraft=self._program.procedures.aircraft.name,
            procedures=self._title(),
            prompt="" if self.finished else self._prompt,
            activity="finished" if self.finished else "asking",
            last_said=self._last_said,
            heard=self._heard,
            wants_number=number is not None,
            standing_by=self._standing_by,
            muted=self._muted,
            listening=not self._muted and not self.finished,
            finished=self.finished,
            complete=True,
            at=self._at,
        )

    def _title(self) -> str:
        number = self._asked + (not self.finished)
        total = f" of {self._questions}" if self._questions else ""
        left = ""
        if self._minutes:
            left = f", {max(0, ceil(self._minutes - self._at / 60_000))} min left"
        return f"Drill, question {number}{total}{left}" if not self.finished else "Drill"

    @property
    def _now(self) -> datetime:
        return self._began + timedelta(milliseconds=self._at)

    def _take_out(self) -> list[Action]:
        out, self._out = self._out, []
        return out

    def _event(self, event: Event) -> None:
        match event:
            case Said():
                if event.utterance == self._prompting:
                    self._prompting = 0
                    self._listen_from_here()
            case TimerFired():
                if event.timer == SILENCE and self._exercise is not None:
                    self._out.append(Note(f"no answer: {self._prompt}", "judged"))
                    self._outcome(self._exercise.silent(), "", self._at)
            case Heard():
                self._hear(event)
            case Keyed():
                self._key(event)

    def _listen_from_here(self) -> None:
        if self._exercise is None or self._standing_by:
            return
        if self._question_ended is None:
            self._question_ended = self._at
        self._out.append(SetTimer(SILENCE, self._exercise.limit_ms * self._patience))

    def _key(self, event: Keyed) -> None:
        action = event.action
        if action == "done" and self._exercise is not None:
            here = {one.id for one in self._exercise.window()[0]}
            for control in ("control:pass", "control:flow_complete"):
                if control in here:
                    self._outcome(self._exercise.hear(control, None, ""), "", self._at)
                    return
        if action in KEYS and self._control(KEYS[action]):
            return
        said = " ".join((action.replace("_", " "), event.argument)).strip()
        self._out.append(Note(f"{said}: makes no sense now", "judged"))

    def _hear(self, event: Heard) -> None:
        verdict = event.verdict
        text = verdict.text or verdict.candidate or ""
        if event.window != self._window or self._muted:
            if verdict.decision == "accept":
                self._out.append(Note(f"heard {text}, too late to count", "heard"))
            return
        if verdict.decision == "reject" or self._exercise is None:
            self._heard = HeardView(text, "not for Runner", self._at)
            return
        self._out.append(Note(f"heard {text or 'something'}", "heard"))
        candidate, value = verdict.candidate or "", verdict.value
        if verdict.decision == "unclear":
            candidate = ""
            if self._say_it_again(event):
                self._heard = HeardView(text, "not clear", self._at)
                return
        name = candidate.removeprefix("control:")
        if candidate != name and self._control(name):
            self._heard = HeardView(text, "taken", self._at)
            return
        outcome = self._exercise.hear(candidate, value, text)
        judgement = "right" if outcome.right or outcome.took else "not right"
        self._heard = HeardView(text, judgement, self._at)
        self._outcome(outcome, text, event.ended)

    def _say_it_again(self, event: Heard) -> bool:
        """Ask for an answer that was not clear once more; False where it counts as it is."""
        self._unclear += 1
        typed = [p.confidence for p in event.proposals if p.recogniser == "text"]
        if (typed and (max(typed) < MISTYPED or self._unclear > 1)) or self._unclear > UNCLEAR:
            return False
        self._say(said(self._program, "say_again"), prompts=True)
        return True

    def _control(self, name: str) -> bool:
        """Carry out a control phrase; False where it is the exercise's own."""
        exercise = self._exercise
        match name:
            case "end":
                self._hush()
                self._finish(EMPTY, complete=False)
            case "stand_by":
                self._out.append(CancelTimer(SILENCE))
                self._standing_by = True
                self._question_ended = None
                self._say(said(self._program, "standing_by"))
                self._open()
            case "resume" if self._standing_by:
                self._standing_by = False
                self._put_again()
            case "mute":
                self._muted = True
                self._out += [CancelTimer(SILENCE), CloseWindow(self._window)]
            case "unmute" if self._muted:
                self._muted = False
                self._put_again()
            case "say_again" if not self._standing_by:
                self._put_again()
            case "hint" if exercise is not None and not self._standing_by:
                words = exercise.hint()
                # A hint that holds the whole answer is as good as being told.
                if words.text:
                    self._hints += 1 if words.text.endswith(MORE) else 2
                name = "drill_hint" if words.text else "drill_no_hint"
                places = {"words": words} if words.text else {}
                self._say(wording.line(self._program, name, **places), prompts=True)
            case "tell" if exercise is not None and not self._standing_by:
                self._outcome(exercise.give_up(), "", self._at)
            case "disagree" if exercise is not None and not self._standing_by:
                if "control:disagree" not in {one.id for one in exercise.window()[0]}:
                    return False
                self._outcome(exercise.hear("control:disagree", None, ""), "", self._at)
            case _:
                return False
        return True

    def _put_again(self) -> None:
        if self._exercise is not None:
            self._hush()
            self._say(self._exercise.prompt, prompts=True)
            self._open()

    def _outcome(self, outcome: Outcome, heard: str, ended: int) -> None:
        self._out.append(CancelTimer(SILENCE))
        self._hush()
        if not outcome.over:
            if outcome.took:
                self._out.append(Tone("right"))
            line = join([one for one in (outcome.said, outcome.ask) if one.text])
            if line.text:
                self._say(line, prompts=True)
            else:
                self._listen_from_here()
            self._open()
            return
        exercise, card = self._exercise, self._card
        assert exercise is not None and card is not None
        self._out.append(Tone("right" if outcome.right else "wrong"))
        began = self._question_ended
        answer_ms = QUICKEST if began is None else max(QUICKEST, ended - began)
        lead = outcome.said
        if exercise.allowed_ms:
            lead = join((lead, self._time_taken(answer_ms, exercise.allowed_ms)))
        self._pending = Answered(outcome.right, answer_ms, heard, self._hints)
        if exercise.verifies and self._figures is not None:
            self._begin_verification(exercise.verifies, lead)
            return
        self._grade()
        self._ask(lead)

    def _time_taken(self, answer_ms: int, allowed_ms: int) -> Line:
        places = {
            "seconds": wording.count(round(answer_ms / 1000)),
            "allowed": wording.count(round(allowed_ms * self._patience / 1000)),
        }
        return wording.line(self._program, "drill_time", **places)

    def _begin_verification(self, list_id: str, lead: Line) -> None:
        self._say(join((lead, wording.line(self._program, "drill_verify"))))
        self._verification = Verification(
            self._program, list_id, self._sheet, self._given, self._utterance, self._window
        )
        self._pass_on(self._verification.begin(self._at))

    def _verify(self, event: Event) -> None:
        assert self._verification is not None
        self._pass_on(self._verification.take(event))

    def _pass_on(self, effects: Sequence[Effect]) -> None:
        verification = self._verification
        assert verification is not None
        self._out += effects
        self._speaking |= {one.utterance for one in effects if isinstance(one, Say)}
        self._utterance = max(self._utterance, verification.utterance)
        self._window = max(self._window, verification.window)
        if verification.over:
            self._verification = None
            mistakes = verification.mistakes
            if self._pending is not None and mistakes:
                self._pending = replace(self._pending, right=False)
            self._grade()
            self._ask(EMPTY)

    def _grade(self) -> None:
        card, exercise, pending = self._card, self._exercise, self._pending
        if card is None or exercise is None or pending is None:
            return
        self._pending = None
        known = self._progress.get(card.id)
        graded = grade(card, exercise, known, pending, self._patience, self._now)
        self._progress[card.id] = graded.progress
        self._asked += 1
        self._right += graded.right
        if not graded.right:
            missed = "; ".join(exercise.missed)
            self._missed.append(f"{exercise.heading}: {missed}" if missed else exercise.heading)
        self._out.append(graded)

    def _ask(self, lead: Line) -> None:
        """Put the next question, or end."""
        self._exercise = self._card = None
        over = (self._questions and self._asked >= self._questions) or (
            self._minutes and self._at >= self._minutes * 60_000
        )
        while not over and self._exercise is None:
            deck = [card.waiting for card in self._cards.values()]
            waiting = tiers(deck, self._progress, self._now, self._asked_cards)
            chosen = pick(waiting, self._last)
            if chosen is None:
                break
            self._make(chosen)
        if self._exercise is None:
            self._finish(lead, complete=True)
            return
        self._hints = self._unclear = 0
        self._question_ended = None
        self._prompt = self._exercise.prompt.text
        self._say(join([one for one in (lead, self._exercise.prompt) if one.text]), prompts=True)
        self._open()

    def _make(self, chosen: Waiting) -> None:
        card = self._cards[chosen.card]
        known = self._progress.get(card.id)
        level = 0 if known is None else known.level
        try:
            self._exercise = make(
                self._program, self._sheet, self._given, self._figures, card, level, self._random
            )
        except RunnerError as error:
            del self._cards[card.id]
            self._out.append(Note(str(error), "advice"))
            return
        self._card = card
        self._last = chosen
        self._asked_cards.add(card.id)

    def _open(self) -> None:
        if self._muted or self._exercise is None:
            return
        self._window += 1
        if self._standing_by:
            held = wording.controls(self._program, ("resume", "end"), ())
            self._out.append(Listen(self._window, tuple(held)))
            return
        candidates, number = self._exercise.window()
        answers = [one.pattern for one in candidates]
        controls = wording.controls(self._program, CONTROLS, answers)
        self._out.append(Listen(self._window, (*candidates, *controls), number))

    def _say(self, line: Line, prompts: bool = False) -> None:
        self._utterance += 1
        self._speaking.add(self._utterance)
        self._last_said = line.text
        if prompts:
            self._out.append(CancelTimer(SILENCE))
            self._prompting = self._utterance
        urgency = "prompt" if prompts else "routine"
        self._out.append(Say(self._utterance, line.text, line.speech, urgency))  # type: ignore[arg-type]

    def _hush(self) -> None:
        if self._speaking:
            self._out.append(Hush())
            self._prompting = 0

    def _finish(self, lead: Line, complete: bool) -> None:
        # What was recalled counts, also where its verification was broken off.
        self._grade()
        self.finished = True
        self.complete = complete
        self._out += [CancelTimer(SILENCE), CloseWindow(self._window)]
        name = "drill_complete" if complete else "drill_stopped"
        counted = {"right": wording.count(self._right), "asked": wording.count(self._asked)}
        end = wording.line(self._program, name, **counted)
        if complete and not self._asked:
            end = wording.line(self._program, "nothing_to_drill")
        soon = self._now + timedelta(days=1)
        due = sum(1 for c in self._cards if c in self._progress and self._progress[c].due <= soon)
        again = wording.line(self._program, "drill_due", count=wording.count(due))
        self._say(join([one for one in (lead, end, again) if one.text]))
        for missed in self._missed:
            self._out.append(Note(f"To learn: {missed}", "advice"))
        self._out.append(Finish(complete, tuple(self._missed)))
