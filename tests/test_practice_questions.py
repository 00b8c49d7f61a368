"""Every card of the shipped files can be asked, and its right answer is taken for right."""

from __future__ import annotations

from datetime import UTC, datetime
from functools import lru_cache
from itertools import pairwise
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runner.checklist.load import find_file, load_procedures, load_voice
from runner.engine.effects import Finish, Listen, Say, SetTimer
from runner.engine.events import Event, Heard, InputEnded, Keyed, Said, TimerFired
from runner.engine.lines import Line
from runner.engine.program import Program
from runner.figures.sheet import Sheet
from runner.practice.cards import Card, deck
from runner.practice.catch_it import CatchIt
from runner.practice.confusions import confusions
from runner.practice.draw import draw, inputs_of, tolerance
from runner.practice.exercise import MORE, Exercise, Hints
from runner.practice.from_memory import FromMemory
from runner.practice.grading import Graded
from runner.practice.in_order import InOrder
from runner.practice.kinds import KINDS
from runner.practice.making import make
from runner.practice.one_answer import OneAnswer
from runner.practice.session import Action, Drill
from runner.practice.store import MemoryStore, progress_of
from runner.voice.judge import judge
from runner.voice.text import propose_text

NOW = datetime(2030, 6, 1, 9, 0, tzinfo=UTC)
SHIPPED = ("whimbrel-four", "sanderling")


@lru_cache(maxsize=2)
def shipped(name: str) -> tuple[Program, Sheet]:
    procedures = load_procedures(find_file(name, ("checklists",)))
    program = Program(procedures, load_voice(find_file("cockpit", ("voices",))))
    return program, Sheet(procedures.aircraft)


def cards(name: str, *kinds: str) -> list[Card]:
    program, sheet = shipped(name)
    return deck(program, sheet.work_out({}).figures, kinds or KINDS)


def asked(name: str, card: Card, level: int = 0, seed: int = 1) -> Exercise:
    program, sheet = shipped(name)
    return make(program, sheet, {}, sheet.work_out({}).figures, card, level, Random(seed))


def taken_for(name: str, exercise: Exercise, text: str) -> str:
    """The candidate that a typed text is taken for in the exercise's window."""
    candidates, number = exercise.window()
    window = Listen(1, candidates, number)
    verdict = judge(propose_text(text, window, shipped(name)[0].style), window)
    return verdict.candidate or "" if verdict.decision == "accept" else ""


def all_of(exercise: Exercise) -> str:
    """The whole answer, by hints."""
    given = ""
    while (hint := exercise.hint()).text:
        given = hint.text
    return given


@pytest.mark.parametrize("name", SHIPPED)
class TestEveryCard:
    def test_its_answer_in_words_is_right(self, name: str) -> None:
        for card in cards(name, "response", "next"):
            exercise = asked(name, card)
            answer = all_of(exercise)
            assert not answer.endswith(MORE), card.id
            assert taken_for(name, exercise, answer) == "answer", (card.id, answer)
            outcome = exercise.hear("answer", None, answer)
            assert outcome.over and outcome.right

    def test_a_figure_is_right_within_its_tolerance_and_wrong_outside(self, name: str) -> None:
        _, sheet = shipped(name)
        for card in cards(name, "numbers"):
            for level in range(4):
                random = Random(1)
                random.randint(1, sheet.aircraft.engines)
                drawn = draw(sheet, card.thing, {}, random)
                value = float(drawn.figure.value)
                slack = tolerance(sheet.aircraft, drawn.figure, level)
                for off, right in ((0.0, True), (0.99, True), (-0.99, True), (2.1, False)):
                    exercise = asked(name, card, level)
                    # The list's own tolerance may be wider than the level's.
                    away = value + off * slack if right else value + 6 * max(slack, abs(value) / 4)
                    outcome = exercise.hear("number", away, "")
                    assert (outcome.over, outcome.right) == (True, right), (card.id, level, away)

    def test_memory_items_in_order_are_right(self, name: str) -> None:
        for card in cards(name, "memory"):
            exercise = asked(name, card)
            assert isinstance(exercise, InOrder)
            outcome = None
            for _ in range(len(exercise.items)):
                answer = all_of(exercise)
                assert taken_for(name, exercise, answer) == "answer", (card.id, answer)
                outcome = exercise.hear("answer", None, answer)
            assert outcome is not None and outcome.over and outcome.right

    def test_a_flow_named_whole_is_right_and_is_verified(self, name: str) -> None:
        for card in cards(name, "flow"):
            exercise = asked(name, card)
            assert isinstance(exercise, FromMemory)
            while (answer := all_of(exercise)) != "":
                candidate = taken_for(name, exercise, answer)
                assert candidate.startswith("item:"), (card.id, answer)
                assert exercise.hear(candidate, None, answer).took
            outcome = exercise.hear("control:flow_complete", None, "")
            assert outcome.over and outcome.right
            assert exercise.verifies == card.thing

    def test_what_the_copilot_says_wrong_is_no_answer_of_the_item(self, name: str) -> None:
        wrong = 0
        for seed, card in enumerate(cards(name, "wrong")):
            for level in (0, 3):
                exercise = asked(name, card, level, seed)
                assert isinstance(exercise, CatchIt)
                good, bad = "control:pass", "control:disagree"
                if exercise.is_wrong:
                    wrong += 1
                    good, bad = bad, good
                assert exercise.hear(good, None, "").right
                assert not exercise.hear(bad, None, "").right
                assert exercise.silent().right is not exercise.is_wrong
        assert wrong

    def test_ids_are_unique_and_equal_items_of_two_lists_are_one_card(self, name: str) -> None:
        every = cards(name)
        assert len({card.id for card in every}) == len(every)
        responses = [(c.waiting.subject, c.waiting.answer) for c in cards(name, "response")]
        assert len(set(responses)) == len(responses)

    def test_silence_is_never_right_but_where_a_right_answer_is_let_pass(self, name: str) -> None:
        for card in cards(name, "response", "next", "numbers", "memory", "flow"):
            exercise = asked(name, card)
            for _ in range(40):
                outcome = exercise.silent()
                if outcome.over:
                    break
            assert outcome.over and not outcome.right and exercise.missed, card.id


class TestConfusions:
    def test_what_another_list_answers_to_the_same_challenge_is_listened_for(self) -> None:
        program, sheet = shipped("whimbrel-four")
        figures = sheet.work_out({}).figures
        found = [text for _, text in confusions(program, figures, "before-takeoff.cowl-flaps", 1)]
        assert "fully open" not in found  # the file names it as an opposite already
        card = next(
            c for c in cards("whimbrel-four", "response") if c.thing == "before-takeoff.cowl-flaps"
        )
        exercise = asked("whimbrel-four", card)
        for text in (*found, "fully open"):
            assert taken_for("whimbrel-four", exercise, text).startswith("wrong:"), text
        assert taken_for("whimbrel-four", exercise, "half open") == "answer"


class TestDraws:
    @settings(max_examples=60, deadline=None)
    @given(st.integers(0, 10**6), st.sampled_from(SHIPPED))
    def test_a_day_lies_within_the_ranges_and_is_never_moister_than_air_can_be(
        self, seed: int, name: str
    ) -> None:
        _, sheet = shipped(name)
        card = Random(seed).choice(cards(name, "numbers"))
        drawn = draw(sheet, card.thing, {}, Random(seed))
        assert tuple(drawn.inputs) == inputs_of(sheet.aircraft, card.thing)
        for one, value in drawn.inputs.items():
            rule = sheet.aircraft.inputs[one]
            if rule.choices:
                assert value in rule.choices
            else:
                assert rule.low <= float(value) <= rule.high
        if {"dew_point", "outside_temperature"} <= set(drawn.inputs):
            assert drawn.inputs["dew_point"] <= drawn.inputs["outside_temperature"]
        assert sheet.work_out(drawn.inputs).figures[card.thing] == drawn.figure


class TestHints:
    def test_the_first_word_comes_first_and_the_whole_answer_last(self) -> None:
        hints = Hints(Line("all four full and secure", "all four full and secure"), 9)
        assert hints.next().text == "all …"
        assert hints.next().text == "all four full …"
        assert hints.next().text == "all four full and secure"
        assert hints.next().text == ""

    def test_the_hardest_level_has_none(self) -> None:
        card = cards("whimbrel-four", "response")[0]
        assert asked("whimbrel-four", card, level=3).hint().text == ""


def drill(name: str, kinds: tuple[str, ...], seed: int, questions: int) -> Drill:
    program, sheet = shipped(name)
    return Drill(
        program, sheet, {}, cards(name, *kinds), {}, began=NOW, seed=seed, questions=questions
    )


def played(session: Drill, lines: list[str], style_of: str) -> list[Action]:
    """A session on typed lines, each utterance ended before the next line; '' is silence."""
    style = shipped(style_of)[0].style
    at = 0
    window: Listen | None = None
    every: list[Action] = []
    pending: list[Event] = []
    actions = session.begin(0)
    left = list(lines)
    while True:
        every += actions
        for action in actions:
            if isinstance(action, Say):
                pending.append(Said(at, action.utterance, True))
            if isinstance(action, Listen):
                window = action
        if pending:
            actions = session.take(pending.pop(0))
            continue
        if session.finished:
            return every
        at += 1000
        if not left:
            actions = session.take(InputEnded(at))
            continue
        line = left.pop(0)
        if line.startswith(":"):
            actions = session.take(Keyed(at, line[1:]))  # type: ignore[arg-type]
        elif not line or window is None:
            actions = session.take(TimerFired(at, "silence"))
        else:
            proposals = propose_text(line, window, style)
            verdict = judge(proposals, window)
            actions = session.take(Heard(at, window.window, at, at, proposals, verdict))


SAID = st.sampled_from(
    (
        *("", "hint", "tell me", "check", "I disagree", "say again", "stand by", "continue"),
        *("low", "flow complete", "ninety two", "2650", "battery", "zzz", "<engine>", "mute"),
        *("end the drill", "later", "I don't know", ":done", ":why", ":later", ":disagree"),
        *(":mute", ":unmute", ":go_back", ":end", ":stand_by", ":resume", ":reject"),
    )
)


class TestSessions:
    @settings(max_examples=80, deadline=None)
    @given(
        st.lists(SAID | st.text(max_size=12), max_size=40),
        st.sampled_from([*((kind,) for kind in KINDS), KINDS]),
        st.integers(0, 99),
    )
    def test_whatever_is_said_a_drill_goes_on_to_its_end(
        self, lines: list[str], kinds: tuple[str, ...], seed: int
    ) -> None:
        session = drill("sanderling", kinds, seed, 6)
        actions = played(session, lines, "sanderling")
        assert sum(isinstance(action, Finish) for action in actions) == 1
        windows = [action.window for action in actions if isinstance(action, Listen)]
        assert windows == sorted(set(windows))
        spoken = [action.utterance for action in actions if isinstance(action, Say)]
        assert spoken == sorted(set(spoken))
        graded = [action for action in actions if isinstance(action, Graded)]
        assert len(graded) <= 6
        assert all(1 <= one.rating <= 4 and (one.right or one.rating == 1) for one in graded)

    def test_the_same_seed_and_the_same_answers_are_the_same_drill(self) -> None:
        one, other, third = (
            played(drill("sanderling", KINDS, seed, 12), [""] * 40, "sanderling")
            for seed in (4, 4, 5)
        )
        assert one == other
        assert one != third

    def test_no_two_neighbours_have_the_same_answer(self) -> None:
        kinds = ("response", "next", "wrong", "numbers", "memory")
        actions = played(drill("whimbrel-four", kinds, 1, 60), ["tell me"] * 400, "whimbrel-four")
        answers = {card.id: card.waiting.answer for card in cards("whimbrel-four")}
        given = [answers[a.card] for a in actions if isinstance(a, Graded)]
        assert len(given) == 60
        assert all(a != b for a, b in pairwise(given))

    def test_time_allowed_shrinks_as_a_card_is_known_better(self) -> None:
        card = cards("whimbrel-four", "response")[0]
        limits = [asked("whimbrel-four", card, level).limit_ms for level in range(4)]
        assert limits == sorted(limits, reverse=True) and len(set(limits)) == 4

    def test_standing_by_stops_the_clock(self) -> None:
        session = drill("sanderling", ("response",), 1, 3)
        actions = played(session, ["stand by", "low", "continue"], "sanderling")
        timers = [place for place, a in enumerate(actions) if isinstance(a, SetTimer)]
        held = next(
            place for place, a in enumerate(actions) if isinstance(a, Say) and "tanding" in a.text
        )
        again = next(
            place
            for place, a in enumerate(actions)
            if isinstance(a, Say) and place > held and "tanding" not in a.text
        )
        assert not [place for place in timers if held <= place < again]

    def test_cards_that_cannot_be_read_begin_anew(self) -> None:
        store = MemoryStore()
        store.drill_answer(1, "a", "response", 3, True, 1, NOW, "", "{broken")
        assert progress_of(store, store.cards()) == ({}, 1)


def test_one_answer_is_what_most_kinds_are() -> None:
    kinds = {card.kind: type(asked("sanderling", card)) for card in reversed(cards("sanderling"))}
    assert kinds == {
        "response": OneAnswer,
        "next": OneAnswer,
        "numbers": OneAnswer,
        "wrong": CatchIt,
        "memory": InOrder,
        "flow": FromMemory,
    }
