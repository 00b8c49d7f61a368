"""Two people in one run: who may answer, what both must answer, and who has control."""

from __future__ import annotations

import pytest

from engine_runs import Crew, only, started
from runner.engine.effects import Effect, Say
from runner.engine.events import CrewChanged, Event, Heard, Keyed, Member, Resumed, Verdict
from runner.engine.looking import look
from runner.engine.step import step
from runner.engine.wire import event_from_json, event_to_json, state_from_json, state_to_json

ITEMS = only(
    """\
          - challenge: Wing flaps
            response: flaps twenty
            not: flaps ten
          - challenge: Hydraulic pump
            who: first officer
            response: pump running
          - challenge: Flight controls
            response: full and free
            not: controls locked
            both: yes
          - challenge: Lamps
            response: all lit"""
).replace("        kind: ", "        responder: captain\n        kind: ")
ANNA, BEN, EVE = "Anna", "Ben", "Eve"


class Pair(Crew):
    """Anna is captain, Ben first officer, and Eve looks on."""

    def __init__(self, *, alone: bool = False) -> None:
        super().__init__(started(procedures=ITEMS))
        self.aboard((ANNA, "captain"), *([] if alone else [(BEN, "first officer")]))

    def aboard(self, *members: tuple[str, ...]) -> tuple[Effect, ...]:
        """These are the crew now, each with roles."""
        those = tuple(Member(name, tuple(roles)) for name, *roles in members)
        return self.give(CrewChanged(self.now(), those))

    def says_to(self) -> list[tuple[str, tuple[str, ...]]]:
        """What is said because of the last event, and to whom."""
        return [(say.text, say.to) for say in self.of(Say)]

    def by(
        self, member: str, candidate: str, text: str = "", window: int = 0
    ) -> tuple[Effect, ...]:
        """A member says what the judge takes as this candidate, in the window open now."""
        at = self.now()
        verdict = Verdict("accept", candidate, None, text or candidate)
        window = window or self.state.window
        return self.give(Heard(at, window, at - 500, at - 100, (), verdict, (), member))

    def key(self, member: str, action: str, argument: str = "") -> tuple[Effect, ...]:
        """A member presses a key."""
        return self.give(Keyed(self.now(), action, argument, "", member))  # type: ignore[arg-type]


def test_a_challenge_is_spoken_to_whom_it_is_for() -> None:
    pair = Pair()
    assert pair.says_to() == [("Wing flaps", (ANNA,))]
    pair.by(ANNA, "answer")
    assert pair.says_to() == [("Hydraulic pump", (BEN,))]
    assert [(m.name, m.answers) for m in look(pair.state).crew] == [(ANNA, False), (BEN, True)]
    assert look(pair.state).role_wanted == "first officer"


@pytest.mark.parametrize("said", ["answer", "wrong:0", "control:keep"])
def test_an_answer_from_the_wrong_role_is_refused_aloud(said: str) -> None:
    pair = Pair()
    pair.by(BEN, said)
    assert pair.says_to() == [("captain answers. Wing flaps", ())], "both hear why"
    assert pair.status("test.wing-flaps") == "waiting"
    pair.key(BEN, "done")
    assert pair.status("test.wing-flaps") == "waiting"
    pair.by(ANNA, "answer")
    assert pair.status("test.wing-flaps") == "done"


def test_every_control_but_an_answer_is_either_ones() -> None:
    pair = Pair()
    pair.by(BEN, "control:stand_by")
    assert pair.asked == "standing by"
    pair.by(ANNA, "control:resume")
    assert pair.asked == "Wing flaps"
    pair.by(BEN, "control:later")
    assert pair.asked == "Hydraulic pump"


def test_an_observer_neither_answers_nor_controls() -> None:
    pair = Pair()
    pair.aboard((ANNA, "captain"), (BEN, "first officer"), (EVE,))
    for said in ("answer", "control:stand_by", "control:later", "call:test"):
        pair.by(EVE, said)
        assert pair.asked == "Wing flaps"
        assert pair.says.startswith("observers do not answer")
    pair.key(EVE, "end")
    assert not pair.state.finished


def test_an_item_of_both_is_done_when_both_have_answered() -> None:
    pair = Pair()
    pair.by(ANNA, "answer")
    pair.by(BEN, "answer")
    assert pair.asked == "Flight controls"
    assert pair.says_to() == [("Flight controls", ())]
    pair.by(ANNA, "answer")
    assert pair.says == "first officer too. Flight controls"
    pair.by(ANNA, "answer")
    assert pair.asked == "Flight controls", "the same person twice is one person"
    pair.by(BEN, "wrong:0", "controls locked")
    pair.by(BEN, "answer")
    assert pair.asked == "Flight controls", "after a wrong answer both begin again"
    pair.by(ANNA, "answer")
    assert pair.asked == "Lamps"


def test_both_may_answer_an_item_of_both_at_once() -> None:
    pair = Pair()
    pair.by(ANNA, "answer")
    pair.by(BEN, "answer")
    window = pair.state.window
    pair.by(ANNA, "answer")
    pair.by(BEN, "answer", window=window)
    assert pair.asked == "Lamps"


def test_an_answer_spoken_as_the_crew_changes_counts() -> None:
    pair = Pair()
    window = pair.state.window
    pair.aboard((ANNA, "captain"), (BEN, "first officer"), (EVE,))
    pair.aboard((ANNA, "captain"), (BEN, "first officer"))
    assert pair.state.window > window
    pair.by(ANNA, "answer", window=window)
    assert pair.asked == "Hydraulic pump"


def test_an_answer_spoken_as_it_becomes_anothers_to_give_is_refused_aloud() -> None:
    pair = Pair()
    window = pair.state.window
    pair.aboard((ANNA, "first officer"), (BEN, "captain"))
    pair.by(ANNA, "answer", window=window)
    assert pair.says_to() == [("captain answers. Wing flaps", ())]


def test_an_answer_spoken_as_a_crew_is_reminded_counts() -> None:
    pair = Pair()
    window = pair.state.window
    pair.silence()
    assert pair.state.window > window
    pair.by(ANNA, "answer", window=window)
    assert pair.asked == "Hydraulic pump"


def test_an_answer_spoken_as_a_machine_comes_back_counts() -> None:
    pair = Pair()
    window = pair.state.window
    pair.give(Resumed(pair.now()))
    pair.by(ANNA, "answer", window=window)
    assert pair.asked == "Hydraulic pump"


def test_an_answer_to_a_question_that_is_done_is_said_to_be_too_late_to_whoever_gave_it() -> None:
    pair = Pair()
    window = pair.state.window
    pair.by(ANNA, "answer")
    pair.by(ANNA, "answer", "flaps twenty", window=window)
    assert pair.asked == "Hydraulic pump"
    assert pair.says_to() == [("flaps twenty, too late. Hydraulic pump", (ANNA,))]


def test_one_alone_answers_everything() -> None:
    pair = Pair(alone=True)
    for _ in range(4):
        pair.by(ANNA, "answer")
    assert pair.state.finished


def test_a_role_that_nobody_holds_is_answered_by_whoever_is_aboard() -> None:
    pair = Pair()
    pair.aboard((ANNA, "captain"), (BEN, "flight engineer"))
    pair.by(ANNA, "answer")
    assert pair.asked == "Hydraulic pump"
    pair.by(ANNA, "answer")
    assert pair.asked == "Flight controls"


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_control_changes_hands_by_both_words_in_either_order(order: tuple[int, int]) -> None:
    words = [(ANNA, "control:you_have_control"), (BEN, "control:i_have_control")]
    pair = Pair()
    pair.by(*words[order[0]])
    assert pair.state.crew == (Member(ANNA, ("captain",)), Member(BEN, ("first officer",)))
    pair.by(*words[order[1]])
    assert pair.says == "Ben has control. Wing flaps"
    assert pair.state.crew == (Member(ANNA, ("first officer",)), Member(BEN, ("captain",)))
    pair.by(ANNA, "answer")
    assert pair.status("test.wing-flaps") == "waiting"
    pair.by(BEN, "answer")
    assert pair.status("test.wing-flaps") == "done"


def test_control_is_neither_given_by_who_has_it_not_nor_taken_alone() -> None:
    pair = Pair()
    before = pair.state.crew
    pair.by(BEN, "control:you_have_control")
    pair.by(BEN, "control:i_have_control")
    pair.by(BEN, "control:i_have_control")
    pair.by(ANNA, "control:i_have_control")
    assert pair.state.crew == before


def test_who_flies_alone_has_nobody_to_hand_control_to() -> None:
    pair = Pair(alone=True)
    assert not pair.pattern("control:you_have_control")
    pair.aboard((ANNA, "captain"), (BEN, "first officer"))
    assert pair.pattern("control:you_have_control")
    assert pair.says == "Ben is aboard. Wing flaps"
    pair.aboard((ANNA, "captain"))
    assert pair.says == "Ben has left. Wing flaps"
    assert not pair.pattern("control:you_have_control")


def test_disregard_gives_no_control_back() -> None:
    pair = Pair()
    pair.by(ANNA, "control:you_have_control")
    pair.by(BEN, "control:i_have_control")
    pair.by(BEN, "control:disregard")
    assert pair.state.crew == (Member(ANNA, ("first officer",)), Member(BEN, ("captain",)))


def test_a_crewed_run_goes_to_text_and_back_and_replays() -> None:
    pair = Pair()
    pair.by(ANNA, "answer")
    pair.by(BEN, "control:i_have_control")
    pair.by(BEN, "answer")
    pair.by(ANNA, "answer")
    state = Crew(started(procedures=ITEMS)).state
    for event in pair.events[1:]:
        back: Event = event_from_json(event_to_json(event))
        assert back == event
        state, _ = step(state, back)
    assert state_to_json(state) == state_to_json(pair.state)
    assert state_from_json(state_to_json(state), state.program) == state
