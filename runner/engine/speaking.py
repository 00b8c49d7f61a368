"""The working turn of one step: the run being changed, the effects so far, and its voice.

A question is one utterance: what there is to say first (a list's name, a number read back,
what was wrong) and then what is asked, so that its end starts the wait for the answer. A
new question always opens a new window, and a window opened closes every earlier one.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

from runner.checklist.model import Checklist, Item
from runner.engine.effects import (
    CancelTimer,
    CloseWindow,
    Effect,
    Hush,
    Listen,
    Note,
    Prepare,
    Say,
    SetTimer,
    Tone,
)
from runner.engine.lines import ItemLines, Line, Values, item_lines, join, plain, said, values_of
from runner.engine.listening import window_for
from runner.engine.program import Program
from runner.engine.state import Asking, Frame, ItemRun, ListRun, Run

SILENCE = "silence"
"""The engine's one timer: how long a question has been open."""

FIRST_WAIT: dict[Asking, int] = {
    "item": 6_000,
    "engine confirm": 6_000,
    "which engine": 6_000,
    "offer": 10_000,
    "briefing": 15_000,
    "flow": 30_000,
    "call": 30_000,
    "standing by": 30_000,
}
"""Milliseconds after a question's end before it is asked again (common practice: work with
the hands is given longer than an answer)."""

READ_AND_DO_WAIT = 15_000
LONGEST_WAIT = 120_000

WAITING = ItemRun("waiting")


ADDRESSED = frozenset({"item", "engine confirm", "flow", "briefing"})
"""Questions to one role; all others are anybody's."""


class Turn:
    """One step in the making."""

    __slots__ = ("effects", "lead", "member", "program", "run")

    def __init__(self, run: Run, program: Program) -> None:
        self.run = run
        self.program = program
        self.effects: list[Effect] = []
        self.lead: list[Line] = []
        self.member = ""
        """Who of the crew caused this step."""

    @property
    def list_run(self) -> ListRun:
        """The run of the list on top."""
        return self.run.lists[self.run.stack[-1].key]

    @property
    def checklist(self) -> Checklist:
        """The list on top, as written."""
        return self.program.lists[self.list_run.list]

    @property
    def item(self) -> Item:
        """The current item."""
        return self.program.items[self.run.stack[-1].item]

    @property
    def crewed(self) -> bool:
        """Whether two or more people take part."""
        return len([member for member in self.run.crew if member.roles]) > 1

    @property
    def role_wanted(self) -> str:
        """The role to which the open question is put; '' where it is anybody's."""
        run = self.run
        if run.asking not in ADDRESSED or not run.stack:
            return ""
        if run.stack[-1].item:
            item = self.item
            return "" if item.both else item.who or self.checklist.responder
        return self.checklist.responder

    @property
    def addressees(self) -> tuple[str, ...]:
        """The members to whom the open question is put; empty: everybody."""
        role = self.role_wanted if self.crewed else ""
        if not role:
            return ()
        return tuple([member.name for member in self.run.crew if role in member.roles])

    def set_top(self, frame: Frame) -> None:
        """Replace the top frame."""
        self.run.stack = (*self.run.stack[:-1], frame)

    def status(self, list_run: ListRun, item: str) -> ItemRun:
        """What became of an item of a list."""
        return list_run.items.get(item, WAITING)

    def values(self, item: str) -> Values:
        """The figures of an item's lines."""
        return values_of(self.program, self.run.figures, item)

    def lines(self, item: str, engine: int | None) -> ItemLines:
        """What is said of an item today."""
        return item_lines(self.program, item, engine, self.values(item))

    def place(self) -> Line:
        """Where the run is: the current challenge, or the list's name."""
        item = self.run.stack[-1].item
        if item:
            return self.lines(item, self.list_run.engine).challenge
        return self.title(self.list_run)

    def title(self, list_run: ListRun) -> Line:
        """A list's name with its engine."""
        return list_name(self.program, list_run.list, list_run.argument)

    def say_first(self, name: str, /, **places: Line) -> None:
        """Say one of Runner's phrases before the next question."""
        self.lead.append(said(self.program, name, **places))

    def note(
        self,
        text: str,
        kind: Literal["heard", "judged", "done", "list", "phase", "figures", "advice"] = "advice",
    ) -> None:
        """A line for the screen and the record."""
        self.effects.append(Note(text, kind))

    def tone(self, name: Literal["right", "wrong", "attention", "complete"]) -> None:
        """A short tone."""
        self.effects.append(Tone(name))

    def say(
        self,
        line: Line,
        urgency: Literal["routine", "prompt", "urgent"] = "routine",
        to: tuple[str, ...] = (),
    ) -> int:
        """Say one line now, to everybody or to some; its utterance number."""
        run = self.run
        if urgency == "urgent":
            if run.speaking and not run.urgent:
                self.hush()
            run.urgent = run.utterance + 1
            run.warnings = (*run.warnings, (run.urgent, line.text, line.speech))
        return self._utter(line, urgency, to)

    def call_speed(self, line: Line) -> int:
        """Say a speed call now: it cuts off everything but another speed call, and what was
        urgent in that is said again after it."""
        run = self.run
        cut: tuple[tuple[int, str, str], ...] = ()
        if run.speaking and not run.speed:
            cut, run.warnings = run.warnings, ()
            run.urgent = 0
            self.hush()
        run.speed = run.urgent = run.utterance + 1
        utterance = self._utter(line, "urgent")
        for _, text, speech in cut:
            self.say(Line(text, speech), "urgent")
        return utterance

    def _utter(
        self,
        line: Line,
        urgency: Literal["routine", "prompt", "urgent"],
        to: tuple[str, ...] = (),
    ) -> int:
        run = self.run
        run.utterance += 1
        run.speaking = (*run.speaking[-31:], run.utterance)
        run.last_said = line.text
        self.effects.append(Say(run.utterance, line.text, line.speech, urgency, to))
        return run.utterance

    def silence(self) -> None:
        """Cut off everything, speed calls too."""
        run = self.run
        run.urgent = 0
        run.speed = 0
        run.warnings = ()
        self.hush()

    def say_lead(self) -> None:
        """Say now what was to be said before the next question, without asking anything."""
        if self.lead:
            self.say(join(self.lead))
            self.lead.clear()

    def hush(self) -> None:
        """Cut off what is being spoken, unless it is urgent: the pilot has answered."""
        run = self.run
        if run.speaking and not run.urgent:
            self.effects.append(Hush())
            run.speaking = ()

    def stop_timer(self) -> None:
        """Forget how long the question has been open."""
        if self.run.timing:
            self.effects.append(CancelTimer(SILENCE))
            self.run.timing = False

    def start_timer(self) -> None:
        """Wait for the answer: longer each time, up to two minutes.

        A list whose moment brings it is named again after the longest wait only: nobody wants
        to hear of the climb while the aircraft rolls.
        """
        run = self.run
        first = FIRST_WAIT[run.asking]
        if run.asking == "call" and self.program.lists[run.subject].offered_at:
            first = LONGEST_WAIT
        if run.asking == "item" and self.checklist.kind == "read and do":
            first = READ_AND_DO_WAIT
        wait = min(first << min(run.silences, 8), LONGEST_WAIT)
        self.effects.append(SetTimer(SILENCE, wait))
        run.timing = True

    def close(self) -> None:
        """Stop listening."""
        if self.run.listening:
            self.effects.append(CloseWindow(self.run.window))
            self.run.listening = False

    def open(self, same: bool = False) -> None:
        """Open the next window for what is asked, unless muted; ``same``: for what was asked
        in the one before, which a crew may be answering just now."""
        run = self.run
        same = same and run.listening and bool(run.crew)
        if run.muted:
            self.close()
            return
        asking: Asking = run.asking
        item = run.stack[-1].item if asking == "item" else ""
        candidates, number = window_for(
            self.program,
            asking,
            item,
            self.list_run.engine if item else None,
            self.values(item) if item else (),
            run.calls,
            run.phase,
            self.crewed,
        )
        run.window += 1
        run.listening = True
        if not same:
            run.asked_from = run.window
        self.effects.append(Listen(run.window, candidates, number))

    def ask(
        self,
        asking: Asking,
        prompt: Line,
        *,
        subject: str = "",
        aloud: bool = True,
        again: bool = False,
    ) -> None:
        """Put a question: what is to be said first, the prompt, and a new window.

        ``aloud`` false (tones only) sounds a tone for the prompt. ``again``: the question is
        the one that is open; the count of silences is kept, so that its reminders come at
        growing intervals, and so is what is answered to it meanwhile.
        """
        run = self.run
        self.stop_timer()
        if asking != "item" or (run.stack and run.stack[-1].item != run.contradicted[0]):
            run.contradicted = ("", "")
        run.asking = asking
        run.subject = subject
        run.prompt = prompt.text
        if not again:
            run.silences = 0
            run.unclear = 0
        calling = self.call_by_name()
        lead = self.lead
        if aloud and prompt.text:
            if calling:
                places = {"member": plain(self.program, calling), "challenge": prompt}
                prompt = said(self.program, "put_to", **places)
            line = join([*lead, prompt]) if lead else prompt
            run.prompting = self.say(line, "prompt", () if lead else self.addressees)
        elif lead or calling:
            run.prompting = self.say(join([*lead, plain(self.program, calling)]), "prompt")
        else:
            run.prompting = 0
            self.tone("attention")
            self.start_timer()
        self.lead = []
        self.open(same=again)

    def call_by_name(self) -> str:
        """Who has to be called by name because the question is now theirs; '' for nobody."""
        run = self.run
        those = self.addressees if run.together else ()
        name = those[0] if len(those) == 1 else ""
        changed, run.called = name != run.called, name
        return name if changed else ""

    def put_anew(self, put: Callable[[], None]) -> None:
        """Put the question that is open once more: an answer to it that is on its way from
        another machine still is one."""
        run = self.run
        asked_from = run.asked_from if run.listening and run.crew else run.window + 1
        put()
        run.asked_from = min(asked_from, run.window)

    def prepare(self, *lines: Line) -> None:
        """Have what is likely to be said next synthesised now."""
        speeches = tuple([line.speech for line in lines if line.speech])
        if speeches:
            self.effects.append(Prepare(speeches))


def split_key(key: str) -> tuple[str, str]:
    """A list's id and its engine, '' for none, from the list's key."""
    name, _, argument = key.partition(":")
    return name, argument


def list_name(program: Program, list_id: str, argument: str = "") -> Line:
    """A list's title, with the engine it is about."""
    title = plain(program, program.lists[list_id].title)
    if not argument:
        return title
    number = plain(program, f"engine {argument}")
    return Line(f"{title.text}, {number.text}", f"{title.speech}, {number.speech}")
