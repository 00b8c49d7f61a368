"""Two people at one machine: whoever is to answer is called by name where that changes."""

from __future__ import annotations

from engine_runs import Crew, only, started
from runner.engine.events import CrewChanged, Heard, Keyed, Member, Verdict
from runner.engine.turns import by_name, whose
from runner.engine.wire import event_from_json, event_to_json, state_from_json, state_to_json

ITEMS = only(
    """\
          - challenge: Wing flaps
            response: flaps twenty
          - challenge: Trim
            response: trim set
          - challenge: Hydraulic pump
            who: first officer
            response: pump running
          - challenge: Flight controls
            response: full and free
            both: yes
          - challenge: Lamps
            response: all lit"""
).replace("        kind: ", "        responder: captain\n        kind: ")
PAIR = (Member("Anna", ("captain",)), Member("Ben", ("first officer",)))


def at_one_machine() -> Crew:
    """Anna is captain and Ben first officer, side by side."""
    crew = Crew(started(procedures=ITEMS))
    crew.give(CrewChanged(crew.now(), PAIR, together=True))
    return crew


def answers(crew: Crew, member: str) -> None:
    at = crew.now()
    verdict = Verdict("accept", "answer", None, "answer")
    crew.give(Heard(at, crew.state.window, at - 500, at - 100, (), verdict, (), member))


def test_a_name_begins_the_question_where_another_is_to_answer() -> None:
    crew = at_one_machine()
    assert crew.says == "Anna, Wing flaps"
    answers(crew, "Anna")
    assert crew.says == "Trim", "it is still Anna's to answer"
    answers(crew, "Anna")
    assert crew.says == "Ben, Hydraulic pump"
    answers(crew, "Ben")
    assert crew.says == "Flight controls", "both answer"
    answers(crew, "Ben")
    answers(crew, "Anna")
    assert crew.says == "Anna, Lamps"
    assert crew.asked == "Lamps"


def test_the_name_is_said_though_only_tones_are_wanted() -> None:
    crew = at_one_machine()
    crew.give(Keyed(crew.now(), "tones"))
    answers(crew, "Anna")
    answers(crew, "Anna")
    assert crew.says == "Ben"


def test_at_machines_of_their_own_nobody_is_called_by_name() -> None:
    crew = Crew(started(procedures=ITEMS))
    crew.give(CrewChanged(crew.now(), PAIR))
    assert crew.says == "Wing flaps"


def test_that_they_sit_together_is_kept_and_older_runs_are_read() -> None:
    event = CrewChanged(5, PAIR, together=True)
    assert event_from_json(event_to_json(event)) == event
    older = event_to_json(CrewChanged(5, PAIR)).replace(',"together":false', "")
    assert "together" not in older
    assert event_from_json(older) == CrewChanged(5, PAIR)
    state = at_one_machine().state
    assert state_from_json(state_to_json(state), state.program) == state


def test_what_is_said_is_said_by_whom_it_is_asked_of() -> None:
    crew = at_one_machine()
    assert whose(crew.state) == "Anna"
    answers(crew, "Anna")
    answers(crew, "Anna")
    assert whose(crew.state) == "Ben"
    answers(crew, "Ben")
    assert whose(crew.state) == "Anna", "an item of both is the first one's first"
    answers(crew, "Anna")
    assert whose(crew.state) == "Ben", "and then the other's"
    answers(crew, "Ben")
    assert whose(crew.state, "control:you_have_control") == "Anna"
    assert whose(crew.state, "control:i_have_control") == "Ben"
    answers(crew, "Anna")
    assert whose(crew.state) == "", "nothing is asked of anybody"


def test_at_machines_of_their_own_a_question_does_not_tell_who_spoke() -> None:
    crew = Crew(started(procedures=ITEMS))
    assert whose(crew.state) == ""
    crew.give(CrewChanged(crew.now(), PAIR))
    assert whose(crew.state) == ""
    assert by_name(crew.state, "Ben: all lit") == ("", "Ben: all lit")


def test_control_is_nobodys_to_give_or_to_take_where_that_is_not_known() -> None:
    crew = Crew(started(procedures=ITEMS))
    mates = tuple(Member(name, ("first officer",)) for name in ("Ben", "Eve"))
    crew.give(CrewChanged(crew.now(), mates, together=True))
    assert whose(crew.state, "control:you_have_control") == ""
    assert whose(crew.state, "control:i_have_control") == ""


def test_a_typed_line_may_say_whose_it_is() -> None:
    state = at_one_machine().state
    assert by_name(state, "Ben: all lit") == ("Ben", "all lit")
    assert by_name(state, "Eve: all lit") == ("", "Eve: all lit")
    assert by_name(state, "all lit") == ("", "all lit")
