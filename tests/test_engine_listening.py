"""What may be heard in a window, and how it is told to the recognisers."""

from __future__ import annotations

import pytest

from engine_runs import PROCEDURES, VOICE, Crew, only, program, started
from runner.engine.lines import EMPTY, Line, join, number_line, pattern_of
from runner.engine.listening import CONTROLS, widened, window_for
from runner.engine.opposites import opposite_texts
from runner.engine.speaking import Turn
from runner.engine.state import State, thaw
from runner.phrasing.style import Form, VoiceStyle

LAMPS = "          - challenge: Lamps\n            response: on"


def accepts(pattern: str, text: str) -> bool:
    return pattern_of(pattern).matches(text)


def test_the_answer_may_be_said_with_the_item_s_name_before_it() -> None:
    crew = Crew().to("Blowers, all four")
    answer = crew.pattern("answer")
    for text in ("low", "both low", "blowers low", "blowers all four both low"):
        assert accepts(answer, text)
    assert not accepts(answer, "high")
    assert accepts(crew.pattern("wrong:0"), "blowers both high")


def test_synonyms_of_the_voice_style_widen_an_answer() -> None:
    assert accepts(Crew().pattern("answer"), "brakes is set")


def test_every_candidate_can_be_parsed_whatever_is_asked() -> None:
    crew = Crew(started(from_phase="preparation"))
    for _ in range(30):
        for candidate in crew.window.candidates:
            assert pattern_of(candidate.pattern).source == candidate.pattern
        crew.presses("done")


def test_an_answer_that_sounds_like_a_control_wins_and_the_control_keeps_its_long_form() -> None:
    crew = Crew().to("Radar")
    assert accepts(crew.pattern("answer"), "standby")
    control = crew.pattern("control:stand_by")
    assert not accepts(control, "stand by")
    assert accepts(control, "checklist stand by")


def test_the_long_form_of_a_control_is_always_accepted() -> None:
    crew = Crew()
    assert accepts(crew.pattern("control:stand_by"), "stand by")
    assert accepts(crew.pattern("control:stand_by"), "checklist stand by")


def test_only_the_way_of_saying_it_that_clashes_needs_the_long_form() -> None:
    voice = VOICE.replace("stand_by: stand by", "stand_by: standby / wait")
    crew = Crew(started(voice=voice)).to("Radar")
    control = crew.pattern("control:stand_by")
    assert accepts(control, "wait") and not accepts(control, "standby")


def test_a_style_without_a_long_form_drops_the_control_that_clashes() -> None:
    voice = VOICE.replace("long form: checklist\n", "")
    crew = Crew(started(voice=voice))
    style = crew.state.program.style if crew.state.program else VoiceStyle("none")
    if not style.long_form:
        assert not crew.to("Radar").pattern("control:stand_by")


def announced(response: str) -> dict[str, str]:
    """What announces a moment while the gear lever is to be answered with that response."""
    made = program(PROCEDURES.replace("response: neutral", f"response: {response}"))
    phase = [one.id for one in made.procedures.phases].index("takeoff")
    item = "after-takeoff.gear-lever"
    candidates, _ = window_for(made, "item", item, None, (None,), (), phase)
    return {c.id: c.pattern for c in candidates if c.role == "moment"}


def test_what_answers_the_item_announces_no_moment() -> None:
    assert accepts(announced("neutral")["moment:flaps_up"], "flaps up")
    one_way = announced("flaps up")["moment:flaps_up"]
    assert accepts(one_way, "flaps are up") and not accepts(one_way, "flaps up")
    assert "moment:flaps_up" not in announced("flaps (are)? up")


def test_opposites_are_listened_for_where_the_file_names_no_competitor() -> None:
    # Common practice: the words in which crews state a control's position.
    assert opposite_texts(("on",)) == ("off",)
    assert opposite_texts(("left booster on",)) == ("left booster off",)
    assert opposite_texts(("both",)) == ("left", "right")
    assert opposite_texts(("on", "off")) == ()
    assert opposite_texts(("not set",)) == ()
    assert opposite_texts(("feathered",)) == ()
    assert len(opposite_texts([f"{n} set" for n in "abcdefgh"])) == 6


def test_competitors_of_the_file_stand_alone() -> None:
    crew = Crew().to("Blowers, all four")
    assert [c.id for c in crew.window.candidates if c.role == "competitor"] == ["wrong:0"]


def test_a_list_about_an_engine_is_called_with_and_without_its_number() -> None:
    crew = Crew()
    assert accepts(crew.pattern("call:engine-fire"), "engine fire checklist")
    assert accepts(crew.pattern("call:engine-fire"), "fire drill")
    assert accepts(crew.pattern("call:engine-fire:3"), "engine fire number three")
    assert accepts(crew.pattern("call:engine-fire:3"), "fire on engine three")
    assert not accepts(crew.pattern("call:engine-fire:3"), "fire on engine two")


def test_lists_of_this_phase_and_the_next_may_be_called_and_every_abnormal_one() -> None:
    calls = {c.id for c in Crew().window.candidates if c.role == "call"}
    assert {"call:briefing", "call:scan", "call:before-takeoff", "call:generator"} <= calls
    assert not {"call:cockpit", "call:cruise", "call:roll"} & calls


def test_controls_make_sense_for_what_is_asked() -> None:
    crew = Crew()
    assert not crew.pattern("control:affirm")
    assert not crew.pattern("control:why")
    assert crew.to("Rotate").pattern("control:why")
    crew.hears("call:engine-fire")
    assert accepts(crew.pattern("engine:4"), "confirm engine four")
    assert crew.pattern("control:negative")


def test_a_style_that_names_no_control_gets_the_trade_s_words() -> None:
    bare = program(voice="runner: 1\nvoice: bare\nlanguage: en\nnumbers: cockpit\n")
    candidates, number = window_for(bare, "call", "", None, (), (), 0)
    heard = {c.id for c in candidates if any(accepts(c.pattern, w) for w in ("continue", "yes"))}
    assert heard == {"control:resume", "control:affirm"} and number is None


def test_nothing_is_heard_when_nothing_is_asked() -> None:
    assert CONTROLS["nothing"] == ()


def test_an_input_of_unknown_kind_has_a_wide_range() -> None:
    crew = Crew().to("Gross weight")
    wanted = crew.window.number
    assert wanted is not None and wanted.low <= 52000 and wanted.high >= 91500


def test_a_number_in_a_pattern_is_matched_however_it_is_said() -> None:
    text = only("          - challenge: Flaps\n            response: flaps 20 / (set)? 20")
    crew = Crew(started(procedures=text))
    for heard in ("flaps twenty", "flaps two zero"):
        assert accepts(crew.pattern("answer"), heard)


def test_figures_stand_in_answers_and_competitors() -> None:
    text = only(
        "          - challenge: Bugs\n"
        "            response: set <rotate_speed> / <rotate_speed> (knots)?\n"
        "            not: clear of <stop_speed>"
    )
    crew = Crew(started(procedures=text))
    assert crew.view.current is not None
    assert crew.view.current.response == "set 97 kt"
    assert accepts(crew.pattern("answer"), "bugs ninety seven knots")


def test_an_answer_that_begins_with_a_group_is_shown_by_its_canonical_text() -> None:
    text = only(
        "          - challenge: Bugs\n            response: (set)? <rotate_speed>\n"
        "          - challenge: Lamps\n            response: (all)? on"
    )
    crew = Crew(started(procedures=text))
    assert crew.view.list is not None
    assert [i.response for i in crew.view.list.items] == ["ninety seven", "on"]


def test_a_pattern_that_figures_made_unreadable_is_taken_as_plain_words() -> None:
    assert pattern_of("a|b").matches("a b")
    assert pattern_of("?").matches("unknown")


def test_a_name_too_long_to_be_said_is_not_listened_for() -> None:
    style = VoiceStyle("plain")
    assert widened(style, "on / off", ()) == "on / off"
    assert widened(style, "on", ("lamp",)) == "(lamp)? on"
    assert widened(style, "on / (it is)? off", ("lamp",)) == "(lamp)? (on / (it is)? off)"
    text = only("          - challenge: One two three four five six\n            response: on")
    assert not accepts(Crew(started(procedures=text)).pattern("answer"), "one two three on")


def test_lines_are_joined_as_sentences() -> None:
    assert join([]) == EMPTY
    assert join([Line("one", "one")]) == Line("one", "one")
    assert join([Line("one", "a"), Line("two?", "b"), Line("three", "c")]) == Line(
        "one. Two? Three", "a. b? c".replace("b?", "b.")
    )


def test_a_unit_named_in_the_text_is_not_shown_twice() -> None:
    crew = Crew().to("Gear")
    assert "Rotate at 97 knots. Gear" in crew.says


@pytest.mark.parametrize("value", [1e9, float("inf")])
def test_a_number_too_large_to_be_said_is_left_as_it_is_written(value: float) -> None:
    line = number_line(program(), value, Form("weight", 0, "lb"))
    assert line.text == line.speech


def test_a_state_is_never_changed() -> None:
    state = Crew().state
    with pytest.raises(AttributeError, match="never changed"):
        state.at = 3
    with pytest.raises(AttributeError, match="never changed"):
        del state.at
    assert isinstance(state, State)
    assert Turn(thaw(state), program()).place().text == "Brakes"
