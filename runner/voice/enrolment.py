"""What a pilot records for a procedures file: which phrases, in which order, and what is left.

A phrase is needed where Runner must tell it from others: the answers of the file's items
(the first way of saying each, and one short other way), what each must not be mistaken
for, the control phrases of the voice style, and the words of the numbers that are read
back or entered. Nothing else is asked for. The order makes any first part of it worth
having: control phrases, then what the lists are answered with that must be complete
before a moment (take-off power set), then answers by how many items they answer, each with
its opposites behind it, then the other ways of saying things.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from runner.checklist.model import Choice, Enter, Item, Readback, Reading, Text, Words
from runner.engine.lines import canonical, form_of, pattern_of
from runner.engine.listening import CONTROLS, control_pattern, engine_word
from runner.engine.opposites import opposite_texts
from runner.engine.program import Program
from runner.errors import RunnerError
from runner.figures.figure import Figure
from runner.phrasing.normal import normalise
from runner.phrasing.numbers import say_digits, say_number
from runner.phrasing.similar import sounds_alike
from runner.phrasing.style import Form
from runner.voice.phrases import engines_of, filled, numbers_quoted
from runner.voice.takes import Takes

TAKES_EACH = 3
"""Takes of each phrase; with fewer more answers are refused, and more bring little."""

SHORT_WORDS = 3
"""Words of another way of saying an answer that is still worth recording."""

ALIKE = 0.5
"""Two ways of saying an answer that sound more alike than this serve hardly better than one."""

MOST_WAYS = 60
"""Texts of one pattern that are looked at."""

SAMPLES = 1_500
"""Numbers of a range that are spelt out to learn its words."""

OFTEN = 4
"""Items from which an answer is recorded before the words of numbers that are not digits."""

Kind = Literal["control", "answer", "opposite", "number"]


@dataclass(frozen=True, slots=True)
class Wanted:
    """A phrase to be recorded, in its plain form, and in how many items it may be heard."""

    phrase: str
    kind: Kind
    items: int


@dataclass(frozen=True, slots=True)
class Plan:
    """The phrases to be recorded, the most useful first.

    ``rivals`` gives for each phrase those that are heard beside it and mean something else.
    """

    phrases: tuple[Wanted, ...]
    rivals: Mapping[str, frozenset[str]]

    def first(self, count: int) -> Plan:
        """The plan of its first ``count`` phrases."""
        kept = self.phrases[:count]
        names = {wanted.phrase for wanted in kept}
        return Plan(kept, {name: self.rivals[name] & names for name in names})


@dataclass(frozen=True, slots=True)
class Progress:
    """What is left of a plan: phrases with fewer than three takes, in its order."""

    left: tuple[Wanted, ...]
    whole: int

    @property
    def done(self) -> int:
        """Phrases that have all their takes."""
        return self.whole - len(self.left)


def progress(plan: Plan, takes: Takes) -> Progress:
    """What is recorded already need not be recorded again."""
    left = [w for w in plan.phrases if len(takes.enrolled(w.phrase)) < TAKES_EACH]
    return Progress(tuple(left), len(plan.phrases))


def plan_for(program: Program, lists: Collection[str] = ()) -> Plan:
    """The plan for a program's procedures and voice style; of these ``lists`` alone if any."""
    return _Planner(program, lists).plan()


def lists_named(program: Program, name: str) -> tuple[str, ...]:
    """The lists that a list's or a phase's id or name stands for.

    Raises ``RunnerError`` where there is none.
    """
    wanted = normalise(name.replace("-", " "))

    def named(*names: str) -> bool:
        return wanted in [normalise(each.replace("-", " ")) for each in names]

    procedures = program.procedures
    for phase in procedures.phases:
        if phase.id == name:
            return tuple(checklist.id for checklist in phase.lists)
    for checklist in program.lists.values():
        if named(checklist.id, checklist.title):
            return (checklist.id,)
    for phase in procedures.phases:
        if named(phase.id, phase.name):
            return tuple(checklist.id for checklist in phase.lists)
    phases = ", ".join(phase.id for phase in procedures.phases)
    lists = ", ".join(program.lists)
    raise RunnerError(
        f"--for {name}: there is no such list or phase; phases: {phases}; lists: {lists}"
    )


@dataclass(frozen=True, slots=True)
class _Meaning:
    """One thing that an item may be answered with, right or wrong: its ways of being said."""

    name: str
    ways: tuple[str, ...]
    right: bool


class _Planner:
    """Gathers phrases item by item. ``_groups`` are what is heard together: phrase to meaning."""

    def __init__(self, program: Program, lists: Collection[str] = ()) -> None:
        self._program = program
        self._lists = [c for c in program.lists.values() if not lists or c.id in lists]
        self._gated: dict[str, None] = {}
        self._numbers_gated = False
        self._groups: list[dict[str, str]] = []
        self._answers: dict[str, int] = defaultdict(int)
        self._others: dict[str, int] = defaultdict(int)
        self._wrong: dict[str, int] = defaultdict(int)
        self._opposites: dict[str, dict[str, None]] = defaultdict(dict)
        self._digits: dict[str, int] = defaultdict(int)
        self._counted: dict[str, int] = defaultdict(int)

    def plan(self) -> Plan:
        # What must be complete before a moment comes first, so it is gathered first.
        for checklist in sorted(self._lists, key=lambda checklist: not checklist.gate):
            for item in checklist.items:
                self._item(item)
            if checklist.gate:
                self._gated = dict.fromkeys(self._answers)
                self._numbers_gated = bool(self._digits)
        self._engines()
        controls = list(self._controls())
        rivals = self._rivals(controls)
        items: dict[str, int] = defaultdict(int)
        for table in (self._digits, self._counted, self._wrong, self._others, self._answers):
            for phrase, count in table.items():
                items[phrase] += count
        placed: dict[str, Wanted] = {}
        for phrase, kind in self._in_order(controls, items):
            placed.setdefault(phrase, Wanted(phrase, kind, items[phrase]))
        return Plan(
            tuple(placed.values()), {name: frozenset(rivals[name] - {name}) for name in placed}
        )

    def _in_order(
        self, controls: list[tuple[str, tuple[str, ...]]], items: Mapping[str, int]
    ) -> Iterator[tuple[str, Kind]]:
        for _, said in controls:
            yield said[0], "control"
        blocks: list[tuple[tuple[int, int], list[tuple[str, Kind]]]] = []
        for phrase in self._answers:
            opposites: list[tuple[str, Kind]] = [(o, "opposite") for o in self._opposites[phrase]]
            place = (2 if items[phrase] >= OFTEN else 3, -items[phrase])
            place = (0, 0) if phrase in self._gated else place
            blocks.append((place, [(phrase, "answer"), *opposites]))
        for words, rank in ((self._digits, 1 if self._numbers_gated else 2), (self._counted, 2)):
            if words:
                often = sorted(words, key=words.__getitem__, reverse=True)
                # Behind the frequent answers: numbers can be said digit by digit.
                blocks.append(((rank, 0), [(word, "number") for word in often]))
        for _, block in sorted(blocks, key=lambda block: block[0]):
            yield from block
        for _, said in controls:
            for phrase in said[1:]:
                yield phrase, "control"
        for phrase in sorted(self._others, key=lambda phrase: -items[phrase]):
            yield phrase, "answer"
            for opposite in self._opposites[phrase]:
                yield opposite, "opposite"

    def _item(self, item: Item) -> None:
        response = item.response
        words = response.words if isinstance(response, Reading) else response
        match words:
            case Words():
                for engine in engines_of(self._program, item, words.pattern):
                    self._meanings(self._of_words(words, engine))
            case Choice(options=options):
                self._meanings(
                    _Meaning(value, ways(source), True)
                    for value, text in options
                    for source in self._sources(text, item.engine)
                )
            case Readback(figure=name):
                self._readback(name)
            case Enter(input=name):
                self._entered(name)
            case _:
                pass

    def _meanings(self, meanings: Iterable[_Meaning]) -> None:
        given = list(meanings)
        group: dict[str, str] = {}
        for meaning in given:
            if not meaning.right:
                continue
            self._answers[meaning.ways[0]] += 1
            for other in meaning.ways[1:]:
                self._others[other] += 1
            group |= dict.fromkeys(meaning.ways, meaning.name)
        for meaning in given:
            if meaning.right:
                continue
            phrase = meaning.ways[0]
            group.setdefault(phrase, meaning.name)
            nearest = max(
                (phrase_ for right in given if right.right for phrase_ in right.ways),
                key=lambda way: sounds_alike(way, phrase),
                default="",
            )
            self._opposites[nearest][phrase] = None
            self._wrong[phrase] += 1
        if group:
            self._groups.append(group)

    def _of_words(self, words: Words, engine: int | None) -> Iterator[_Meaning]:
        for source in self._sources(words.pattern, engine):
            said = ways(source)
            accepted = pattern_of(source)
            yield _Meaning("right", said, True)
            if words.confusable:
                wrong = [
                    pattern_of(other).canonical
                    for text in words.confusable
                    for other in self._sources(text, engine)
                ]
            else:
                wrong = list(opposite_texts(said))
            for place, phrase in enumerate(wrong):
                if not accepted.matches(phrase):
                    yield _Meaning(f"wrong {place}", (phrase,), False)

    def _sources(self, text: Text, engine: int | None) -> Iterator[str]:
        """A pattern for each choice in it; none where it quotes a number, which is any phrase."""
        if numbers := numbers_quoted(self._program, text):
            self._readback(numbers[0])
            return
        yield from filled(self._program, text, engine)

    def _readback(self, name: str) -> None:
        aircraft = self._program.procedures.aircraft
        rule, wanted = aircraft.figures.get(name), aircraft.inputs.get(name)
        if rule is not None:
            form = form_of(Figure(name, 0.0, rule.unit, rule.decimals, rule.kind))
            self._number(form, 0.0, _usual_high(form))
        elif wanted is not None:
            self._entered(name)

    def _entered(self, name: str) -> None:
        wanted = self._program.procedures.aircraft.inputs.get(name)
        if wanted is None:
            return
        if wanted.choices:
            said = [normalise(value.replace("_", " ")) for value in wanted.choices]
            self._meanings(_Meaning(phrase, (phrase,), True) for phrase in said if phrase)
            return
        form = form_of(Figure(name, 0.0, wanted.unit, wanted.decimals, wanted.kind))
        high = min(wanted.high, _usual_high(form)) if wanted.high > 1e6 else wanted.high
        self._number(form, max(wanted.low, -high), high)

    def _number(self, form: Form, low: float, high: float) -> None:
        style = self._program.style
        digits = say_digits("0123456789", style.numbers).split()
        for word in digits:
            self._digits[word] += 1
        for word in _words_between(form, low, high, style.numbers):
            if word not in digits:
                self._counted[word] += 1

    def _engines(self) -> None:
        """An engine's number is confirmed, or given when a list is called for an engine."""
        program = self._program
        if any(checklist.argument for checklist in self._lists):
            for number in range(1, program.procedures.aircraft.engines + 1):
                self._digits[engine_word(program, number)] += 1

    def _controls(self) -> Iterator[tuple[str, tuple[str, ...]]]:
        program = self._program
        kinds = {checklist.kind for checklist in self._lists}
        needed = dict.fromkeys(name for names in CONTROLS.values() for name in names)
        if "read and do" in kinds:
            needed["done"] = None
        if any(item.used for checklist in self._lists for item in checklist.items):
            needed["why"] = None
        if "flow" not in kinds:
            needed.pop("flow_complete", None)
        if "briefing" not in kinds:
            needed.pop("briefing_complete", None)
        answers = {_squeezed(text) for text in (*self._answers, *self._others)}
        long = normalise(program.style.long_form)
        for name in needed:
            said = ways(control_pattern(program.style, name))
            if long and any(_squeezed(text) in answers for text in said):
                # Where an answer sounds the same, the control is heard in its long form alone.
                said = (*said, f"{long} {said[0]}")
            yield f"control {name}", said

    def _rivals(self, controls: list[tuple[str, tuple[str, ...]]]) -> dict[str, set[str]]:
        named = {phrase: name for name, said in controls for phrase in said}
        numbers = [word for words in (self._digits, self._counted) for word in words]
        groups = [*self._groups]
        if numbers:
            groups.append({word: word for word in numbers})
        rivals: dict[str, set[str]] = defaultdict(set)
        for group in (named, *({**named, **group} for group in groups)):
            for one, meaning in group.items():
                rivals[one] |= {other for other, its in group.items() if its != meaning}
        return rivals


def ways(source: str) -> tuple[str, ...]:
    """The canonical text of a pattern and, where there is a short one, a different other."""
    texts = pattern_of(source).texts(limit=MOST_WAYS)
    first = normalise(canonical(source))
    if first not in texts:
        first = texts[0]
    known = [first]
    for text in texts:
        # "flaps three zero" is "flaps thirty" again: its digits are recorded as numbers.
        if not any(pattern_of(one).matches(text) for one in known):
            known.append(text)
    short = [text for text in known[1:] if len(text.split()) <= SHORT_WORDS]
    if not short:
        return (first,)

    def worth(text: str) -> tuple[bool, int, float]:
        alike = sounds_alike(text, first)
        return alike >= ALIKE, len(text.split()), alike

    return first, min(short, key=worth)


def _squeezed(text: str) -> str:
    return text.replace(" ", "")


_USUAL_HIGH = {"speed": 999.0, "heading": 360.0, "altitude": 45_000.0, "rpm": 9_999.0}
_USUAL_HIGH |= {"manifold_pressure": 99.0, "percent": 200.0, "angle": 360.0, "pressure": 1_100.0}
_USUAL_HIGH |= {"temperature": 999.0, "engine": 12.0, "count": 99.0, "frequency": 999.0}


def _usual_high(form: Form) -> float:
    """The largest number of a kind that is said on a flight deck (common practice)."""
    return _USUAL_HIGH.get(form.kind, 99_999.0)


def _words_between(
    form: Form, low: float, high: float, numbers: Literal["cockpit", "icao", "faa"]
) -> dict[str, None]:
    """The words by which the numbers of a range are said, in the order of a first meeting."""
    step = 10.0**-form.decimals
    count = min(SAMPLES, int((high - low) / step) + 1)
    found: dict[str, None] = {}
    for place in range(count):
        value = low + (high - low) * place / max(1, count - 1)
        value = round(value / step) * step
        try:
            said = say_number(value, form, numbers)
        except ValueError:
            continue
        found |= dict.fromkeys(said.split())
    return found
