"""The shipped procedures: complete, without a doubt about them, and written as crews fly."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from runner.checklist.check import check_files
from runner.checklist.model import (
    Checklist,
    Choice,
    Enter,
    FigureRef,
    Item,
    Readback,
    Reading,
    Spoken,
    Text,
    Words,
)
from runner.phrasing.pattern import Pattern, parse
from shipped_answers import applies, figures, shipped

PROCEDURES = shipped()
NORMAL = [checklist for phase in PROCEDURES.phases for checklist in phase.lists]
ALL = [*NORMAL, *PROCEDURES.abnormal]
ITEMS = [item for checklist in ALL for item in checklist.items]
BEFORE_TAKEOFF = PROCEDURES.lists["before-takeoff"]
AFFECTS_AN_ENGINE = re.compile(r"(feathering button|firewall|extinguisher)", re.IGNORECASE)


def written(checklists: list[Checklist]) -> set[tuple[str, int]]:
    """The lines of the file that make items: an item for each engine counts once."""
    return {(item.where.file, item.where.line) for one in checklists for item in one.items}


def words_of(item: Item) -> Words | None:
    response = item.response.words if isinstance(item.response, Reading) else item.response
    return response if isinstance(response, Words) else None


def pattern(text: Text) -> Pattern:
    """A pattern with a word in place of each figure."""
    return parse("".join(p if isinstance(p, str) else "nought" for p in text.parts))


def answers(item: Item) -> Iterator[Pattern]:
    """The patterns that answer an item rightly."""
    words = words_of(item)
    if words is not None:
        yield pattern(words.pattern)
    elif isinstance(item.response, Choice):
        yield from (pattern(option) for _, option in item.response.options)


def readbacks(checklist: Checklist) -> list[str]:
    return [item.response.figure for item in checklist.items if isinstance(item.response, Readback)]


def test_they_load_without_errors_and_without_advice() -> None:
    lines, usable = check_files(["whimbrel-four.yaml", "whimbrel-four-aircraft.yaml"])
    assert usable
    assert lines[-1].endswith("no errors, no advice"), lines


def test_they_are_marked_as_invented_and_for_simulation_only() -> None:
    assert "invented" in PROCEDURES.about.lower()
    assert "simulation and training" in PROCEDURES.about
    assert "manual decides" in " ".join(PROCEDURES.about.split())
    assert "stand on no map" in " ".join(PROCEDURES.scenario.split())


class TestExtent:
    def test_the_flight_goes_from_preflight_to_secure(self) -> None:
        ids = [phase.id for phase in PROCEDURES.phases]
        assert ids[0] == "preflight"
        assert ids[-1] == "secure"
        order = [
            "engine-start",
            "run-up",
            "before-takeoff",
            "climb",
            "cruise",
            "descent",
            "landing",
        ]
        assert [one for one in ids if one in order] == order

    def test_how_many_lists_and_items_there_are(self) -> None:
        assert len(NORMAL) >= 22
        assert len(written(NORMAL)) >= 190
        assert len(PROCEDURES.abnormal) >= 12
        assert all(len(checklist.items) >= 5 for checklist in PROCEDURES.abnormal)

    def test_every_kind_of_list_and_of_response_is_there(self) -> None:
        kinds = {checklist.kind for checklist in NORMAL}
        assert kinds == {"challenge and response", "read and do", "flow", "callouts", "briefing"}
        responses = {type(item.response) for item in ITEMS}
        assert responses == {Words, Readback, Choice, Enter, Reading, Spoken}

    @pytest.mark.parametrize(
        "wanted",
        [
            "engine-failure-before-decision",
            "engine-failure-after-decision",
            "engine-fire",
            "propeller-overspeed",
            "carburettor-ice",
            "generator-failure",
            "electrical-failure",
            "hydraulic-failure",
            "unsafe-gear",
            "fuel-pressure-low",
            "three-engine-landing",
            "smoke",
            "injection-failure",
            "rejected-takeoff",
        ],
    )
    def test_the_usual_abnormal_lists_are_there(self, wanted: str) -> None:
        assert wanted in {checklist.id for checklist in PROCEDURES.abnormal}

    def test_one_list_is_the_one_that_reject_brings(self) -> None:
        assert [one.id for one in PROCEDURES.abnormal if one.rejected_takeoff] == [
            "rejected-takeoff"
        ]


class TestAnswers:
    def test_every_answer_has_two_words_or_more(self) -> None:
        for item in ITEMS:
            for right in answers(item):
                for text in right.texts():
                    assert len(text.split()) >= 2, f"{item.id}: {text}"

    def test_an_answer_says_what_is_and_never_only_that_somebody_looked(self) -> None:
        for item in ITEMS:
            for right in answers(item):
                assert not right.words & {"checked", "check", "required", "verified"}, item.id

    def test_every_answer_in_words_has_what_it_must_not_be_mistaken_for(self) -> None:
        without = [
            item.id
            for item in ITEMS
            if (words := words_of(item)) is not None and not words.confusable
        ]
        assert without == ["go-around.next"]

    def test_no_title_is_one_word_that_could_be_said_by_chance(self) -> None:
        for checklist in ALL:
            assert len(re.findall(r"\w+", checklist.title)) >= 2, checklist.title

    def test_every_item_is_answered_by_somebody(self) -> None:
        crew = set(PROCEDURES.aircraft.roles)
        assert crew == {"pilot flying", "pilot monitoring", "flight engineer"}
        for item in ITEMS:
            if not isinstance(item.response, Spoken):
                assert item.who in crew, item.id
        assert {item.who for item in ITEMS} >= crew


class TestBeforeTakeoff:
    def test_it_begins_at_once_and_guards_the_take_off(self) -> None:
        phase = next(phase for phase in PROCEDURES.phases if phase.id == "before-takeoff")
        assert phase.lists[0] is BEFORE_TAKEOFF
        assert BEFORE_TAKEOFF.start == "at once"
        assert BEFORE_TAKEOFF.gate == "takeoff_power_set"

    @pytest.mark.parametrize("power", ["wet", "dry"])
    @pytest.mark.parametrize("flap", ["ten", "twenty"])
    def test_seventeen_items_apply_whatever_the_power_and_the_flap(
        self, power: str, flap: str
    ) -> None:
        known = figures(PROCEDURES, takeoff_power=power, takeoff_flap=flap)
        due = [item for item in BEFORE_TAKEOFF.items if applies(item, known)]
        assert len(due) == 17
        assert len({item.challenge.source for item in due}) == 17

    def test_it_reads_back_the_numbers_of_the_take_off(self) -> None:
        assert readbacks(BEFORE_TAKEOFF) == [
            "takeoff_rpm",
            "takeoff_manifold_pressure",
            "minimum_takeoff_bmep",
            "decision_speed",
            "rotate_speed",
            "safety_speed",
        ]

    def test_flaps_trim_and_controls_stand_in_two_phases(self) -> None:
        taxi = {item.challenge.source: item for item in PROCEDURES.lists["taxi"].items}
        again = {item.challenge.source: item for item in BEFORE_TAKEOFF.items}
        for challenge in ("Flaps", "Trim tabs", "Flight controls"):
            assert again[challenge].response == taxi[challenge].response
            assert again[challenge].critical

    def test_the_list_before_it_is_told_that_flaps_ten_is_not_flaps_twenty(self) -> None:
        for setting, other in (("ten", "twenty"), ("twenty", "ten")):
            item = next(i for i in BEFORE_TAKEOFF.items if i.id.endswith(f"flaps-{setting}"))
            words = words_of(item)
            assert words is not None
            assert any(pattern(wrong).matches(f"flaps {other}") for wrong in words.confusable)


class TestPower:
    """Common practice with supercharged pistons: reducing, manifold pressure before RPM;
    increasing, RPM before manifold pressure."""

    @pytest.mark.parametrize("name", ["meto-power", "after-takeoff", "cruise"])
    def test_reducing_the_pressure_is_called_first(self, name: str) -> None:
        kinds = [figure.rpartition("_")[2] for figure in readbacks(PROCEDURES.lists[name])]
        assert kinds.index("pressure") < kinds.index("rpm")

    @pytest.mark.parametrize(
        "name", ["before-takeoff", "blower-shift", "before-landing", "go-around"]
    )
    def test_increasing_the_rpm_is_called_first(self, name: str) -> None:
        kinds = [figure.rpartition("_")[2] for figure in readbacks(PROCEDURES.lists[name])]
        assert kinds.index("rpm") < kinds.index("pressure")

    def test_the_briefing_gives_the_numbers_of_the_take_off(self) -> None:
        briefing = PROCEDURES.lists["takeoff-briefing"]
        quoted = {name for item in briefing.items for name in item.challenge.figures}
        assert quoted >= {
            "gross_weight",
            "takeoff_rpm",
            "takeoff_manifold_pressure",
            "minimum_takeoff_bmep",
            "decision_speed",
            "rotate_speed",
            "safety_speed",
            "flaps_up_speed",
            "climb_speed",
        }


class TestEngineLists:
    def test_lists_about_one_engine_name_it_in_their_challenges(self) -> None:
        about = [one for one in PROCEDURES.abnormal if one.argument]
        assert len(about) >= 8
        for checklist in about:
            assert any(FigureRef("engine") in item.challenge.parts for item in checklist.items)

    def test_nothing_that_cannot_be_undone_comes_before_the_engine_is_confirmed(self) -> None:
        found = 0
        for checklist in PROCEDURES.abnormal:
            for item in checklist.items:
                stops = any(right.matches("idle cut off") for right in answers(item))
                if stops:
                    assert item.confirm, item.id
                if AFFECTS_AN_ENGINE.match(item.challenge.source):
                    found += 1
                    assert item.confirm, item.id
                    assert item.critical, item.id
        assert found >= 6

    def test_an_engine_that_fails_is_secured_by_memory_first(self) -> None:
        for name in ("engine-fire", "engine-failure-after-decision", "propeller-overspeed"):
            items = PROCEDURES.lists[name].items
            memory = [item.memory for item in items]
            assert memory[0]
            assert memory == sorted(memory, reverse=True), f"{name}: memory items come first"


class TestMoments:
    @pytest.mark.parametrize("moment", PROCEDURES.moments.values(), ids=lambda one: one.id)
    def test_every_moment_can_be_said_in_two_words_or_more(self, moment: object) -> None:
        said = getattr(moment, "said", None)
        assert said is not None
        for text in pattern(said).texts():
            assert len(text.split()) >= 2

    def test_flaps_up_offers_the_after_take_off_list(self) -> None:
        assert PROCEDURES.lists["after-takeoff"].offered_at == "flaps_up"

    def test_the_roll_is_called_at_the_speeds_of_the_day(self) -> None:
        callouts = PROCEDURES.lists["takeoff-roll"].callouts
        levels = {name for callout in callouts for name in callout.trigger.level.names}
        assert levels >= {"decision_speed", "rotate_speed", "safety_speed"}
        urgent = {callout.id.partition(".")[2] for callout in callouts if callout.urgent}
        assert urgent >= {"decision", "rotate"}
