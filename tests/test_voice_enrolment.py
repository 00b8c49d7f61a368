"""Which phrases a procedures file needs, in which order; how takes are checked against others."""

from __future__ import annotations

import random
from collections import defaultdict
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import pytest

import speech_data
from engine_runs import AIRCRAFT, PROCEDURES
from runner.checklist.files import find_file
from runner.checklist.load import load_procedures, load_procedures_text, load_voice
from runner.engine.listening import CONTROLS, control_pattern
from runner.engine.program import Program
from runner.errors import RunnerError
from runner.phrasing.pattern import parse
from runner.phrasing.style import VoiceStyle
from runner.voice.embedding import Embedder
from runner.voice.enrolment import Plan, lists_named, plan_for, progress, ways
from runner.voice.take_checks import Comparison, fault
from runner.voice.takes import Takes
from runner.voice.waves import read_wav

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


@dataclass(frozen=True)
class _Case:
    found: bool
    placed: bool


def _people() -> dict[str, dict[str, list[bytes]]]:
    """People's takes by speaker and word: fit ones alone, none twice, three of each word."""
    home = speech_data.home()
    if home is None or not (home / "states").is_dir():
        pytest.skip("RUNNER_SPEECH_DATA names no folder of recordings with states/")
    found: dict[str, dict[str, list[bytes]]] = defaultdict(lambda: defaultdict(list))
    for recording in speech_data.states(home):
        if recording.known:
            sound = read_wav(recording.file, 16_000)
            takes = found[recording.speaker][recording.word]
            if len(takes) < 3 and sound not in takes and not fault(sound, recording.word):
                takes.append(sound)
    three = {
        speaker: {word: takes for word, takes in words.items() if len(takes) == 3}
        for speaker, words in found.items()
    }
    return {speaker: words for speaker, words in three.items() if len(words) >= 4}


@pytest.fixture(scope="module")
def people() -> dict[str, dict[str, list[bytes]]]:
    return _people()


@pytest.fixture(scope="module")
def embedder() -> Embedder:
    return Embedder()


def test_a_take_of_another_word_is_found_among_a_speakers_own(
    people: dict[str, dict[str, list[bytes]]],
    embedder: Embedder,
    capsys: pytest.CaptureFixture[str],
) -> None:
    chance = random.Random(11)
    doubted: list[bool] = []
    cases: dict[str, list[_Case]] = {"of another phrase": [], "of no phrase": []}
    for words in people.values():
        base = Comparison(lambda _: (), embedder)
        for turn, word in enumerate(words):
            doubted.append(base.of(words.__getitem__).doubt(word, words) is not None)
            wrong = chance.choice([other for other in words if other != word])
            place = turn % 3
            takes = list(words[word])
            takes[place] = words[wrong][2]
            enrolled = {**words, word: takes, wrong: words[wrong][:2]}
            without = {name: own for name, own in enrolled.items() if name != wrong}
            for kind, own in zip(cases, (enrolled, without), strict=True):
                doubt = base.of(own.__getitem__).doubt(word, own)
                cases[kind].append(_Case(doubt is not None, bool(doubt and doubt.place == place)))
    with capsys.disabled():
        print(f"\n{len(people)} speakers, {len(doubted)} good phrases of three takes: ", end="")
        print(f"{sum(doubted)} doubted ({sum(doubted) / len(doubted):.1%})")
        for kind, made in cases.items():
            found = sum(case.found for case in made)
            placed = sum(case.placed for case in made)
            print(
                f"{len(made)} with one take {kind}: {found} found ({found / len(made):.1%}), ",
                end="",
            )
            print(f"the right take named in {placed}")
    assert len(doubted) >= 100
    assert sum(doubted) <= 0.10 * len(doubted)
    assert sum(case.found for case in cases["of another phrase"]) >= 0.94 * len(doubted)
    assert sum(case.found for case in cases["of no phrase"]) >= 0.82 * len(doubted)


def test_the_self_test_names_a_phrase_recorded_under_another_name(
    people: dict[str, dict[str, list[bytes]]], embedder: Embedder
) -> None:
    confused = clean = 0
    for words in people.values():
        names = [*words][:4]
        rivals = {name: frozenset(names) - {name} for name in names}
        base = Comparison(words.__getitem__, embedder)
        clean += not base.confusions(rivals)
        # Somebody says the second word where the first was asked for, in half of the takes.
        one, other = names[:2]
        mixed = {**words, one: [words[one][0], words[other][0]], other: words[other][1:]}
        found = base.of(mixed.__getitem__).confusions(rivals)
        confused += any({one, other} == {c.phrase, c.taken_for} for c in found)
    assert confused >= 0.9 * len(people)
    assert clean >= 0.7 * len(people)


def test_only_rivals_are_confused(embedder: Embedder) -> None:
    home = speech_data.home()
    if home is None:
        pytest.skip("RUNNER_SPEECH_DATA is not set")
    sounds = [read_wav(file, 16_000) for file in sorted((home / "states" / "on").glob("*.wav"))[:4]]
    takes = {"on": sounds[:2], "upon": sounds[2:], "one": sounds[2:]}
    compare = Comparison(takes.__getitem__, embedder)
    rivals = {"on": frozenset({"one"}), "one": frozenset({"on"}), "upon": frozenset[str]()}
    assert not any("upon" in (c.phrase, c.taken_for) for c in compare.confusions(rivals))


def test_too_few_takes_or_phrases_cast_no_doubt() -> None:
    takes = {"on": [SILENCE], "off": [SILENCE]}
    assert Comparison(lambda _: ()).doubt("on", takes) is None
    assert Comparison(lambda _: ()).confusions({"on": frozenset({"off"})}) == ()


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
