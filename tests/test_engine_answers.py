"""What makes an item done, and what does not."""

from __future__ import annotations

import pytest

from engine_runs import FIGURES, ROTATE, Crew, only, started
from runner.engine.effects import Hush, Listen, Note, Prepare, Say, Tone
from runner.engine.events import Heard, Proposal, ReadingShown, Verdict


def test_a_run_begins_with_the_list_and_its_first_challenge_in_one_utterance() -> None:
    crew = Crew()
    assert crew.says == "Cockpit checklist. Brakes"
    assert crew.window.window == 1
    assert crew.state.listening


def test_a_right_answer_moves_on_at_once() -> None:
    crew = Crew()
    crew.hears("answer", text="set")
    assert crew.says == "Blowers, all four"
    assert crew.status("cockpit.brakes") == "done"
    assert "Brakes: set" in crew.notes
    assert crew.window.window == 2


def test_an_early_answer_hushes_the_challenge_and_a_late_one_has_nothing_to_hush() -> None:
    crew = Crew()
    crew.hears("answer")
    assert crew.of(Hush)
    crew.listens()
    crew.hears("answer")
    assert not crew.of(Hush)


def test_a_wrong_answer_is_named_and_asked_again() -> None:
    crew = Crew().to("Blowers, all four")
    crew.hears("wrong:0", text="high")
    assert crew.says == "expected low, heard high. Blowers, all four"
    assert crew.asked == "Blowers, all four"
    assert "Blowers, all four: heard high; expected low" in crew.notes


def test_a_competitor_of_several_texts_is_named_by_what_was_heard() -> None:
    crew = Crew().to("Blowers, all four")
    crew.hears("wrong:0", text="Blowers both high")
    assert crew.says.startswith("expected low, heard both high")
    crew.hears("wrong:0", text="nothing like it")
    assert crew.says.startswith("expected low, heard high")


def test_the_re_challenge_of_the_first_competitor_is_prepared_word_for_word() -> None:
    crew = Crew().to("Blowers, all four")
    prepared = [speech for effect in crew.of(Prepare) for speech in effect.speeches]
    crew.hears("wrong:0", text="high")
    assert crew.of(Say)[0].speech in prepared


def test_the_next_challenge_is_prepared_while_the_pilot_still_answers() -> None:
    crew = Crew()
    for _ in range(5):
        prepared = [speech for effect in crew.of(Prepare) for speech in effect.speeches]
        crew.presses("done")
        assert crew.of(Say)[0].speech in prepared


@pytest.mark.parametrize(("number", "right"), [(97, True), (96, True), (98, True), (95, False)])
def test_a_read_back_is_right_within_its_tolerance(number: float, right: bool) -> None:
    crew = Crew().to("Rotate")
    crew.hears("number", number)
    assert (crew.status("cockpit.rotate") == "done") == right
    if not right:
        assert crew.says == "expected 97 kt, heard 95 kt. Rotate"
        assert "expected ninety seven, heard ninety five" in crew.of(Say)[0].speech


def test_a_number_window_asks_for_a_number_of_the_figure_s_form() -> None:
    crew = Crew().to("Rotate")
    wanted = crew.window.number
    assert wanted is not None
    assert (wanted.form.kind, wanted.form.unit, wanted.name) == ("speed", "kt", "rotate")
    assert wanted.low == 0 and wanted.high >= 400


def test_a_read_back_of_a_figure_that_is_not_known_is_never_accepted_by_voice() -> None:
    crew = Crew(started(figures=())).to("Rotate")
    assert crew.window.number is None
    crew.hears("number", 97)
    assert crew.asked == "Rotate"
    assert "rotate speed now not known" in crew.says


def test_a_figure_that_is_a_word_cannot_be_read_back_as_a_number() -> None:
    word = type(ROTATE)("rotate_speed", "fast")
    crew = Crew(started(figures=(word,))).to("Rotate")
    assert crew.window.number is None
    crew.hears("number", 97)
    assert crew.asked == "Rotate"


def test_a_choice_is_kept_as_an_input() -> None:
    crew = Crew().to("Runway surface")
    crew.hears("option:wet", text="damp")
    assert crew.inputs == [("runway_surface", "wet")]
    assert crew.asked == "Gross weight"
    assert crew.says == "Gross weight"


def test_an_entered_number_is_read_back_before_the_next_challenge() -> None:
    crew = Crew().to("Gross weight")
    crew.hears("number", 74300.0)
    assert crew.inputs == [("gross_weight", 74300.0)]
    assert crew.says == "74300 lb. Flap"
    assert "seventy four thousand three hundred" in crew.of(Say)[0].speech


def test_an_entered_number_out_of_range_names_the_range() -> None:
    crew = Crew().to("Gross weight")
    crew.hears("number", 100000.0)
    assert crew.inputs == []
    assert crew.says == "gross weight from 52000 lb to 91500 lb. Gross weight"
    assert crew.asked == "Gross weight"


@pytest.mark.parametrize("value", [float("nan"), float("inf"), 1e12])
def test_a_number_that_cannot_be_is_never_taken(value: float) -> None:
    crew = Crew().to("Gross weight")
    crew.hears("number", value)
    assert crew.inputs == []
    assert crew.asked == "Gross weight"


def test_an_entered_choice_is_one_of_the_input_s_choices() -> None:
    crew = Crew().to("Flap")
    assert crew.view.choices == ("ten", "full_flap")
    assert crew.pattern("option:full_flap").endswith("full flap")
    crew.hears("option:nonsense")
    assert crew.asked == "Flap"
    crew.hears("option:full_flap")
    assert crew.inputs == [("flap_setting", "full_flap")]


def test_what_was_heard_in_a_closed_window_cannot_answer_the_next_item() -> None:
    crew = Crew()
    old = crew.state.window
    crew.hears("answer")
    before = crew.asked
    crew.hears("answer", window=old)
    assert crew.asked == before
    assert crew.status("cockpit.blowers-all-four") == "waiting"


def test_a_window_that_was_not_opened_yet_cannot_be_answered() -> None:
    crew = Crew()
    crew.hears("answer", window=crew.state.window + 1)
    assert crew.status("cockpit.brakes") == "waiting"


def test_chatter_is_met_with_silence_and_the_window_stays_open() -> None:
    crew = Crew()
    window = crew.state.window
    crew.mumbles("reject")
    assert not crew.of(Say) and not crew.of(Listen)
    assert crew.state.window == window and crew.state.listening
    crew.hears("answer")
    assert crew.status("cockpit.brakes") == "done"


def test_an_unclear_answer_is_asked_for_twice_then_the_challenge_is_put_again() -> None:
    crew = Crew()
    crew.mumbles()
    assert crew.says == "say again"
    assert not crew.of(Listen)
    crew.mumbles()
    assert crew.says == "say again"
    crew.mumbles()
    assert crew.says == "Brakes?"
    crew.mumbles()
    assert crew.says == "" and crew.of(Tone)
    crew.mumbles()
    crew.mumbles()
    assert crew.says == "Brakes?"


def test_an_answer_that_makes_no_sense_now_changes_nothing() -> None:
    crew = Crew()
    for candidate in ("option:wet", "number", "wrong:9", "wrong:x", "engine:2", "engine:x"):
        crew.hears(candidate, 3.0)
        assert crew.asked == "Brakes"
    for candidate in ("control:flow_complete", "control:briefing_complete", "control:done", ""):
        crew.hears(candidate)
        assert crew.asked == "Brakes"
    crew.hears("call:nonsense")
    crew.hears("moment:nonsense")
    crew.hears("number", None)
    crew.hears("control:affirm")
    crew.hears("control:negative")
    assert crew.asked == "Brakes"
    assert crew.view.heard is not None
    assert crew.view.heard.judgement == "makes no sense now"


def test_words_do_not_answer_a_number_nor_a_number_words() -> None:
    crew = Crew().to("Rotate")
    crew.hears("answer")
    assert crew.asked == "Rotate"
    crew.to("Runway surface").hears("answer")
    assert crew.asked == "Runway surface"
    crew.to("Gross weight").hears("option:dry")
    assert crew.asked == "Gross weight"
    crew.to("Flap").hears("number", 10.0)
    assert crew.asked == "Flap"


def test_the_judgement_of_what_was_heard_is_shown_in_words() -> None:
    crew = Crew()
    for candidate, judgement in (
        ("answer", "right"),
        ("wrong:0", "asked again"),
        ("control:say_again", "taken"),
    ):
        crew.hears(candidate, text="something")
        assert crew.view.heard is not None
        assert (crew.view.heard.text, crew.view.heard.judgement) == ("something", judgement)
    crew.mumbles()
    assert crew.view.heard is not None and crew.view.heard.judgement == "not clear"
    crew.mumbles("reject")
    assert crew.view.heard is not None and crew.view.heard.judgement == "not for Runner"


def test_a_reading_item_is_done_by_the_feed() -> None:
    crew = Crew().to("Gear")
    crew.give(ReadingShown(crew.now(), "cockpit.brakes"))
    assert crew.asked == "Gear"
    crew.give(ReadingShown(crew.now(), "cockpit.gear"))
    assert crew.status("cockpit.gear") == "done"


def test_the_feed_answers_no_item_of_words() -> None:
    crew = Crew()
    crew.give(ReadingShown(crew.now(), "cockpit.brakes"))
    assert crew.status("cockpit.brakes") == "waiting"


def test_a_reading_item_is_answered_by_voice_where_no_feed_shows_it() -> None:
    crew = Crew().to("Gear")
    crew.hears("answer")
    assert crew.status("cockpit.gear") == "done"


def test_words_against_the_readings_are_not_accepted() -> None:
    crew = Crew().to("Gear")
    crew.hears("answer", readings=(("gear_position", 0.0),))
    assert crew.says == "you said down, the reading says gear position 0. Gear"
    assert crew.asked == "Gear"
    crew.hears("answer", readings=(("gear_position", 1.0),))
    assert crew.status("cockpit.gear") == "done"


def test_readings_that_do_not_decide_an_item_do_not_hinder_it() -> None:
    crew = Crew().to("Gear")
    crew.hears("answer", readings=(("airspeed", 3.0),))
    assert crew.status("cockpit.gear") == "done"


def test_a_reading_without_words_is_answered_by_the_feed_or_by_hand_alone() -> None:
    text = only("          - challenge: Gear\n            reading: gear_position == 1")
    crew = Crew(started(procedures=text))
    assert crew.view.current is not None
    assert crew.view.current.response == "shown by the instruments"
    crew.hears("answer")
    assert crew.asked == "Gear"
    crew.presses("done")
    assert crew.finish is not None and crew.finish.complete


def test_done_by_key_marks_an_item_answered_by_hand() -> None:
    crew = Crew()
    crew.presses("done")
    item = crew.state.lists["cockpit"].items["cockpit.brakes"]
    assert (item.status, item.by) == ("done", "key")


def test_done_by_key_confirms_a_known_value_and_never_makes_one_up() -> None:
    crew = Crew(started(figures=(ROTATE,)))
    crew.keys(4)
    assert crew.asked == "Runway surface"
    crew.presses("done")
    assert crew.asked == "Runway surface"
    assert "Runway surface: give its value" in crew.notes
    crew.figures(*FIGURES)
    crew.presses("done")
    assert crew.status("cockpit.runway-surface") == "done"


def test_a_typed_answer_is_checked_as_if_it_had_been_said() -> None:
    crew = Crew()
    crew.presses("answer", "nonsense")
    assert crew.asked == "Brakes"
    crew.presses("answer", "Set")
    crew.presses("answer", "both high")
    assert crew.says.startswith("expected low, heard both high")
    crew.presses("answer", "both low")
    crew.presses("answer", "standby")
    for wrong in ("slow", "95", "ninety five"):
        crew.presses("answer", wrong)
        assert crew.asked == "Rotate"
    crew.presses("answer", "ninety seven")
    crew.presses("answer", "icy")
    assert crew.asked == "Runway surface"
    crew.presses("answer", "damp")
    assert crew.inputs == [("runway_surface", "wet")]
    crew.presses("answer", "heavy")
    assert crew.asked == "Gross weight"
    crew.presses("answer", "seventy four thousand")
    assert crew.inputs == [("gross_weight", 74000.0)]
    crew.presses("answer", "full_flap")
    assert crew.inputs == [("flap_setting", "full_flap")]


def test_a_typed_number_may_be_written_with_a_comma() -> None:
    crew = Crew().to("Gross weight")
    crew.presses("answer", "74,000")
    assert crew.inputs == [("gross_weight", 74000.0)]


def test_a_typed_read_back_of_an_unknown_figure_is_not_accepted() -> None:
    crew = Crew(started(figures=())).to("Rotate")
    crew.presses("answer", "ninety seven")
    crew.presses("answer", "97")
    assert crew.asked == "Rotate"


def test_tones_only_sounds_tones_and_still_names_what_is_wrong() -> None:
    crew = Crew(started(wordiness="tones"))
    assert crew.says == "" and [t.name for t in crew.of(Tone)] == ["attention"]
    assert crew.wait == 6000
    crew.hears("answer")
    assert crew.says == "" and [t.name for t in crew.of(Tone)] == ["right", "attention"]
    crew.hears("wrong:0", text="high")
    assert [t.name for t in crew.of(Tone)] == ["wrong"]
    assert crew.says == "expected low, heard high. Blowers"


def test_terse_says_the_key_word() -> None:
    crew = Crew(started(wordiness="terse"))
    crew.presses("done")
    assert crew.says == "Blowers"


def test_every_verdict_is_kept_as_it_came_and_proposals_do_not_decide() -> None:
    crew = Crew()
    proposals = (Proposal("one", "answer", "set", 1.0, 1.0),)
    crew.give(Heard(5, 1, 1, 2, proposals, Verdict("reject")))
    assert crew.status("cockpit.brakes") == "waiting"


def test_a_note_is_made_of_every_answer_for_the_record() -> None:
    crew = Crew()
    crew.hears("answer", text="brakes set")
    kinds = [(note.kind, note.text) for note in crew.of(Note)]
    assert kinds == [("heard", "heard brakes set"), ("done", "Brakes: set")]
