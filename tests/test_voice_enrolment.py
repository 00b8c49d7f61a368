"""Which phrases a procedures file needs, in which order; how takes are checked against others."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import pytest

import speech_data
import take_people
from engine_runs import AIRCRAFT, PROCEDURES
from runner.checklist.files import find_file
from runner.checklist.load import load_procedures, load_procedures_text, load_voice
from runner.engine.listening import CONTROLS, control_pattern
from runner.engine.program import Program
from runner.errors import RunnerError
from runner.phrasing.pattern import parse
from runner.phrasing.style import VoiceStyle
from runner.voice.embedding import Embedder
from runner.voice.enrolment import Plan, Wanted, lists_named, plan_for, progress, ways
from runner.voice.rehearsal import Result, advice, rehearse
from runner.voice.retune import NEAR
from runner.voice.take_checks import DOUBTED, Comparison, fault
from runner.voice.takes import Takes
from take_people import Person

SILENCE = bytes(2 * 16_000)


@lru_cache(maxsize=8)
def program(procedures: str = PROCEDURES, aircraft: str = AIRCRAFT) -> Program:
    made = load_procedures_text(procedures, "plover.yaml", aircraft, "plover-aircraft.yaml")
    return Program(made, load_voice(find_file("cockpit", ("voices",))))


def plan() -> Plan:
    return plan_for(program())


def phrases(kind: str) -> list[str]:
    return [wanted.phrase for wanted in plan().phrases if wanted.kind == kind]


def test_an_answer_is_recorded_with_one_short_other_way_and_its_opposites() -> None:
    assert {"set", "low", "both low", "dry", "wet", "damp"} <= set(phrases("answer"))
    assert {"high", "not set"} <= set(phrases("opposite"))
    assert {"ten", "full flap"} <= set(phrases("answer")), "choices of an input"


def test_nothing_is_recorded_twice_and_each_phrase_is_in_plain_form() -> None:
    every = [wanted.phrase for wanted in plan().phrases]
    assert len(every) == len(set(every))
    assert all(parse(phrase).canonical == phrase for phrase in every)


def test_every_control_phrase_of_the_style_that_can_be_wanted_is_recorded_first() -> None:
    style = program().style
    named = {name for names in CONTROLS.values() for name in names}
    assert all(wanted.kind == "control" for wanted in plan().phrases[: len(named) - 2])
    for name in named:
        assert parse(control_pattern(style, name)).canonical in {w.phrase for w in plan().phrases}


def test_a_control_that_sounds_like_an_answer_is_recorded_in_its_long_form_too() -> None:
    assert "checklist stand by" in phrases("control")
    assert "checklist go back" not in [wanted.phrase for wanted in plan().phrases]


def test_controls_that_the_procedures_cannot_need_are_not_recorded() -> None:
    bare = PROCEDURES[: PROCEDURES.index("      - list: briefing")]
    every = {wanted.phrase for wanted in plan_for(program(bare)).phrases}
    assert not every & {"done", "flow complete", "briefing complete"}
    assert "why" in every, "an item quotes a figure"


def test_digits_and_number_words_come_from_what_can_be_read_back() -> None:
    digits = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]
    assert set(digits) <= set(phrases("number"))
    assert {"oh", "hundred", "thousand", "seventy", "fifteen"} <= set(phrases("number"))
    assert not {"point", "minus", "decimal"} & set(phrases("number")), "no such number here"


def test_procedures_without_numbers_and_engines_need_no_digits() -> None:
    lists = PROCEDURES[PROCEDURES.index("phases:") :]
    words = lists[: lists.index("          - challenge: Rotate")]
    file = PROCEDURES[: PROCEDURES.index("moments:")] + words
    assert not [w for w in plan_for(program(file)).phrases if w.kind == "number"]


def test_answers_used_most_often_come_first_each_with_its_opposites_behind_it() -> None:
    made = plan_for(program_of("whimbrel-four"))
    before = {wanted.phrase for wanted in plan_for(whimbrel(), BEFORE_TAKEOFF).phrases}
    answers = [w for w in made.phrases if w.kind == "answer" and w.phrase not in before]
    assert answers[0].items >= 5
    first = [wanted.items for wanted in answers[:40]]
    assert first == sorted(first, reverse=True)
    names = [wanted.phrase for wanted in made.phrases]
    assert 0 < names.index("high blower") - names.index("low blower") <= 2


BEFORE_TAKEOFF = ("before-takeoff",)
QUARTER_OF_AN_HOUR = 90
"""Phrases of three takes, ten seconds each."""


def whimbrel() -> Program:
    return program_of("whimbrel-four")


def test_a_quarter_of_an_hour_covers_controls_frequent_states_and_the_list_before_takeoff() -> None:
    first = plan_for(whimbrel()).first(QUARTER_OF_AN_HOUR).phrases
    names = [wanted.phrase for wanted in first]
    assert {"say again", "stand by", "go back", "i disagree", "reject"} <= set(names)
    listed = plan_for(whimbrel(), BEFORE_TAKEOFF).phrases
    # The other ways of saying things come later, and so do numbers that are no digits.
    ways_first = [w.phrase for w in listed if w.kind == "answer"]
    cut = ways_first.index("runway dry")
    assert set(ways_first[:cut]) <= set(names)
    digits = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]
    assert set(digits) <= set(names)
    often = {"auto rich", "fully closed", "idle cut off", "set to both", "brake set"}
    assert often <= set(names), "what many items are answered with"
    assert max(map(names.index, ways_first[:cut])) < 60, "ten minutes for the list itself"


def test_one_list_needs_its_own_phrases_and_the_controls_alone() -> None:
    whole = {wanted.phrase for wanted in plan_for(whimbrel()).phrases}
    part = {wanted.phrase: wanted for wanted in plan_for(whimbrel(), BEFORE_TAKEOFF).phrases}
    assert part.keys() <= whole
    assert len(part) < 0.2 * len(whole)
    assert {"low blower", "high blower", "say again", "stand by"} <= part.keys()
    assert not {"done", "flow complete", "briefing complete", "gear up"} & part.keys()
    assert part["low blower"].items == 1


def test_lists_are_named_by_their_id_their_title_or_their_phase() -> None:
    assert lists_named(whimbrel(), "before-takeoff") == BEFORE_TAKEOFF
    assert lists_named(whimbrel(), "Before take-off") == BEFORE_TAKEOFF
    assert lists_named(whimbrel(), "run-up") == ("run-up", "autofeather-test")
    assert lists_named(whimbrel(), "autofeather test") == ("autofeather-test",)
    with pytest.raises(RunnerError, match="--for loops: there is no such list or phase; phases: p"):
        lists_named(whimbrel(), "loops")


@lru_cache(maxsize=2)
def program_of(name: str) -> Program:
    made = load_procedures(find_file(name))
    return Program(made, load_voice(find_file("cockpit", ("voices",))))


@pytest.mark.parametrize("name", ["whimbrel-four", "sanderling"])
def test_every_item_of_the_shipped_procedures_has_an_answer_among_the_phrases(name: str) -> None:
    from runner.checklist.model import Words

    made = program_of(name)
    every = [wanted.phrase for wanted in plan_for(made).phrases]
    assert len(every) < 700
    for item in made.items.values():
        words = item.response
        if isinstance(words, Words) and not words.pattern.figures:
            accepted = parse(words.pattern.source)
            assert any(accepted.matches(phrase) for phrase in every), item.id


def test_rivals_are_what_is_heard_beside_a_phrase_and_means_something_else() -> None:
    rivals = plan().rivals
    assert "high" in rivals["low"]
    assert "both low" not in rivals["low"], "another way of saying the same"
    assert "say again" in rivals["low"]
    assert "low" in rivals["say again"]
    assert "set" not in rivals["low"], "answers of different items never compete"
    assert "two" in rivals["three"]
    assert all(name not in others for name, others in rivals.items())
    assert all(name in rivals[other] for name, others in rivals.items() for other in others)


def test_a_first_part_of_a_plan_is_a_plan() -> None:
    part = plan().first(20)
    assert part.phrases == plan().phrases[:20]
    names = {wanted.phrase for wanted in part.phrases}
    assert set(part.rivals) == names
    assert all(others <= names for others in part.rivals.values())


def test_another_way_of_saying_an_answer_is_short_and_sounds_different() -> None:
    assert ways("off / (landing lights)? off / extinguished") == ("off", "extinguished")
    assert ways("affirm / affirmative / yes (please)?") == ("affirm", "yes")
    assert ways("flaps 30") == ("flaps thirty",), "its digits are recorded as numbers"
    assert ways("set / set and checked by both of us") == ("set",)


def test_what_is_recorded_already_is_not_asked_again(tmp_path: Path) -> None:
    takes = Takes(tmp_path / "anna")
    first = plan().phrases[0].phrase
    assert progress(plan(), takes).done == 0
    for number in range(3):
        assert progress(plan(), takes).left[0].phrase == first
        takes.add(first, bytes([number, 0]) * 8000)
    now = progress(plan(), takes)
    assert (now.done, now.left) == (1, plan().phrases[1:])
    (takes.folder / first.replace(" ", "-") / "2.wav").write_bytes(b"damaged")
    assert progress(plan(), Takes(takes.folder)).left[0].phrase == first


def test_icao_speakers_record_niner() -> None:
    made = program()
    style: VoiceStyle = replace(made.style, numbers="icao")
    every = {wanted.phrase for wanted in plan_for(Program(made.procedures, style)).phrases}
    assert "niner" in every
    assert "nine" not in every


@pytest.fixture(scope="module")
def people() -> dict[str, Person]:
    """Those whose takes nothing was chosen on."""
    home = speech_data.home()
    if home is None or not (home / "states").is_dir():
        pytest.skip("RUNNER_SPEECH_DATA names no folder of recordings with states/")
    return take_people.people(home, fitting=False)


@pytest.fixture(scope="module")
def embedder() -> Embedder:
    return Embedder()


def test_a_take_of_another_word_is_found_among_a_speakers_own(
    people: dict[str, Person], embedder: Embedder, capsys: pytest.CaptureFixture[str]
) -> None:
    found = take_people.doubts(people, embedder)
    doubted = sum(ratio > DOUBTED for ratio in found.good)
    another = [named for ratio, named in found.another if ratio > DOUBTED]
    strange = [named for ratio, named in found.strange if ratio > DOUBTED]
    whole = len(found.good)
    with capsys.disabled():
        print(f"\n{len(people)} speakers, {whole} good phrases of three takes: {doubted} doubted; ")
        print(
            f"with a take of another phrase {len(another)} found, the right one in {sum(another)};"
        )
        print(f"with a take of no phrase {len(strange)} found, the right one in {sum(strange)}")
    assert whole >= 50
    assert doubted <= 0.12 * whole
    assert len(another) >= 0.94 * whole
    assert len(strange) >= 0.80 * whole


def test_a_further_take_is_let_in_and_one_of_another_phrase_is_not(
    people: dict[str, Person], embedder: Embedder, capsys: pytest.CaptureFixture[str]
) -> None:
    some = dict([*people.items()][:4])
    found = take_people.nearness(some, embedder)
    right = sum(ratio <= NEAR for ratio in found.right)
    wrong = sum(ratio <= NEAR for ratio in (*found.opposite, *found.another))
    strange = sum(ratio <= NEAR for ratio in found.strange)
    with capsys.disabled():
        print(f"\n{right} of {len(found.right)} further takes let in, ", end="")
        print(f"{wrong} of {len(found.opposite) + len(found.another)} of other phrases, ", end="")
        print(f"{strange} of {len(found.strange)} of words that are not enrolled")
    assert right >= 0.75 * len(found.right)
    assert wrong == 0
    assert strange <= 0.05 * len(found.strange)


def test_nearness_needs_takes_to_compare_with(embedder: Embedder) -> None:
    takes = {"on": [SILENCE] * 3, "off": [SILENCE] * 3}
    assert Comparison(takes.__getitem__, embedder).nearness(SILENCE, "on", takes) == math.inf


def enrolled(folder: Path, words: dict[str, list[bytes]]) -> tuple[Plan, Takes]:
    """A pilot who recorded these words, every one heard beside every other."""
    takes = Takes(folder)
    for word, sounds in words.items():
        for sound in sounds:
            takes.add(word, sound)
    wanted = tuple(Wanted(word, "answer", 1) for word in words)
    return Plan(wanted, {word: frozenset(words) - {word} for word in words}), takes


def test_a_rehearsal_accepts_takes_as_what_they_are(
    people: dict[str, Person], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told: list[tuple[int, int]] = []
    every: list[Result] = []
    for name, person in [*people.items()][:3]:
        words = {word: person.enrolled[word] for word in [*person.enrolled][:4]}
        made, takes = enrolled(tmp_path / name, words)
        every += rehearse(made, takes, lambda *at: told.append(at))
    accepted, whole = sum(r.accepted for r in every), sum(r.takes for r in every)
    wrong = sum(count for r in every for _, count in r.taken_for)
    with capsys.disabled():
        print(f"\n{whole} takes rehearsed: {accepted} accepted, {wrong} as another phrase")
    assert whole == 36
    assert told[-1] == (12, 12)
    assert accepted >= 0.5 * whole
    assert wrong <= 1


def test_a_rehearsal_names_a_phrase_recorded_under_another_name(
    people: dict[str, Person], tmp_path: Path
) -> None:
    named = 0
    some = [*people.items()][:4]
    for name, person in some:
        words = {word: person.enrolled[word] for word in [*person.enrolled][:3]}
        one, other = [*words][:2]
        # Somebody says the second word where the first was asked for, in half of the takes.
        mixed = [words[one][0], words[other][0]], words[other][1:]
        made, takes = enrolled(tmp_path / name, {**words, one: mixed[0], other: mixed[1]})
        lines = [line for result in rehearse(made, takes) if (line := advice(result))]
        named += any(f"'{one}'" in line or f"'{other}'" in line for line in lines)
    assert named == len(some)


def test_advice_is_what_helps() -> None:
    good = Result("low blower", "answer", 3, 2)
    assert advice(good) == "", "one refused take of three is no fault"
    refused = replace(good, accepted=1, near="high blower")
    assert advice(refused) == (
        "'low blower' is refused (2 of 3 takes), nearest to 'high blower': say the item's name "
        "before it, or record it once more with --again 'low blower'"
    )
    taken = replace(good, phrase="stand by", kind="control", taken_for=(("standing by", 1),))
    assert advice(taken, "checklist") == (
        "'stand by' is taken for 'standing by' (1 of 3 takes): say 'checklist stand by', or "
        "record it once more with --again 'stand by'"
    )
    digit = Result("five", "number", 3, 0)
    assert advice(digit).endswith("(3 of 3 takes): record it once more with --again 'five'")


def test_too_few_takes_or_phrases_cast_no_doubt() -> None:
    takes = {"on": [SILENCE], "off": [SILENCE]}
    assert Comparison(lambda _: ()).doubt("on", takes) is None


def _speech(level: float, seconds: float) -> bytes:
    """Something like a voice between two pauses: a buzz that swells, in very low noise."""
    import numpy as np

    chance = np.random.default_rng(3)
    count = round(seconds * 16_000)
    swell = np.sin(np.pi * np.arange(count) / count) ** 0.3
    buzz = level * swell * np.sign(np.sin(2 * np.pi * 140 * np.arange(count) / 16_000)) / 2
    pause = np.zeros(8_000)
    sound = np.concatenate([pause, buzz, pause]) + chance.normal(0, 4, count + 16_000)
    return np.clip(sound, -32_768, 32_767).astype("<i2").tobytes()


@pytest.mark.parametrize(
    ("level", "seconds", "phrase", "wrong"),
    [
        (8_000, 0.5, "low", ""),
        (8_000, 1.5, "locked and fastened", ""),
        (0, 0.5, "low", "nothing was heard"),
        (300, 0.5, "low", "too quiet"),
        (120_000, 0.5, "low", "clipped"),
        (8_000, 0.05, "low", "too short"),
        (8_000, 0.2, "down locked three green and checked", "too short"),
        (8_000, 3.5, "low", "too long"),
    ],
)
def test_a_sound_that_is_no_good_take_is_refused_with_the_reason(
    level: float, seconds: float, phrase: str, wrong: str
) -> None:
    found = fault(_speech(level, seconds) if level else SILENCE, phrase)
    assert found.startswith(wrong) if wrong else not found
    assert "\n" not in found


def test_no_sound_at_all_is_no_take() -> None:
    assert fault(b"", "low").startswith("nothing was heard")
