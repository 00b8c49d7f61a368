"""Events from another machine: those of a real run pass, and nothing else does."""

from __future__ import annotations

import dataclasses
import hashlib
import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine_runs import Crew, started
from runner.crew.checked import check, event_of, started_of
from runner.crew.core.base import Turn
from runner.engine.events import (
    Crossed,
    FeedChanged,
    FiguresChanged,
    Heard,
    InputEnded,
    Keyed,
    LimitPassed,
    MomentReached,
    Paused,
    Proposal,
    ReadingShown,
    Resumed,
    Said,
    Snapshot,
    TimerFired,
    Verdict,
)
from runner.engine.wire import event_to_json
from runner.figures.figure import Figure

PROPOSAL = Proposal("matcher", "answer", "gear up", 0.9, 0.4, None)
EVENTS = (
    Heard(10, 1, 5, 9, (PROPOSAL,), Verdict("accept", "answer", None, "gear up")),
    Heard(10, 1, 5, 9, (), Verdict("accept", "number", 118.0), (("airspeed", 90.5),)),
    Keyed(10, "done"),
    Said(10, 3, True),
    TimerFired(10, "silence"),
    Crossed(10, "rotate", (("airspeed", 101.0),), ("decision",)),
    MomentReached(10, "flaps_up"),
    LimitPassed(10, 1, 2, "high", 60.1, 58.0, (3,)),
    FeedChanged(10, "lost"),
    ReadingShown(10, "gear"),
    FiguresChanged(10, (Figure("v1", 101.0, "kt"), Figure("surface", "wet")), ("v2",), "x"),
    Paused(10),
    Resumed(10),
    InputEnded(10),
)


def shipped(path: str) -> Snapshot:
    text = (Path(__file__).parent.parent / path).read_text("utf-8")
    return Snapshot(Path(path).name, hashlib.sha256(text.encode()).hexdigest(), text)


@pytest.mark.parametrize("event", EVENTS, ids=lambda event: type(event).__name__)
def test_every_kind_of_event_passes_unchanged(event):
    assert event_of(event_to_json(event)) == event


def test_the_first_event_of_the_shipped_run_passes():
    first = dataclasses.replace(
        started(),
        procedures=shipped("checklists/whimbrel-four.yaml"),
        aircraft=shipped("checklists/whimbrel-four-aircraft.yaml"),
        voice=shipped("voices/cockpit.yaml"),
    )
    assert started_of(event_to_json(first)) == first


def test_what_passes_can_be_stepped():
    crew = Crew(started_of(event_to_json(started())))
    for event in EVENTS:
        crew.give(event_of(event_to_json(dataclasses.replace(event, at=crew.now() + 10))))


JUNK = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(2**70), -(2**60)),
    st.just(1e300),
    st.just([[["x"]]]),
    st.just({"a": 1}),
    st.just("\x1b[2J"),
    st.just("y" * 3000),
)


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(EVENTS), st.data())
def test_a_field_of_another_type_does_not_pass(event, data):
    plain = json.loads(event_to_json(event))
    name = data.draw(st.sampled_from(sorted(plain)))
    junk = data.draw(JUNK)
    plain[name] = junk
    if isinstance(junk, bool) and isinstance(getattr(event, name, None), bool):
        return
    with pytest.raises(Turn):
        event_of(json.dumps(plain))


@settings(max_examples=100, deadline=None)
@given(st.sampled_from(EVENTS), st.data())
def test_a_field_missing_or_unknown_does_not_pass(event, data):
    plain = json.loads(event_to_json(event))
    del plain[data.draw(st.sampled_from(sorted(plain)))]
    with pytest.raises(Turn):
        event_of(json.dumps(plain))
    whole = json.loads(event_to_json(event)) | {"path": "/etc/passwd"}
    with pytest.raises(Turn):
        event_of(json.dumps(whole))


BOMB = "a: &a [x, x, x, x, x, x, x, x, x]\n" + "".join(
    f"{name}: &{name} [{', '.join(['*' + before] * 9)}]\n"
    for before, name in zip("abcdefgh", "bcdefghi", strict=True)
)


def of_file(text: str, name: str = "list.yaml") -> str:
    first = started()
    sha256 = hashlib.sha256(text.encode()).hexdigest()
    procedures = dataclasses.replace(first.procedures, name=name, text=text, sha256=sha256)
    return event_to_json(dataclasses.replace(first, procedures=procedures))


def test_a_yaml_bomb_a_broken_file_and_a_wrong_hash_do_not_pass():
    good = started().procedures.text
    assert started_of(of_file(good))
    for text in (BOMB, "[" * 100_000, "procedures: [", "", "!!python/object/apply:os.system [id]"):
        with pytest.raises(Turn, match="faults"):
            started_of(of_file(text))
    with pytest.raises(Turn, match="hash"):
        started_of(
            event_to_json(
                dataclasses.replace(
                    started(), voice=dataclasses.replace(started().voice, text="other")
                )
            )
        )


@pytest.mark.parametrize(
    "name", ["../list.yaml", "/etc/list.yaml", "a\\b.yaml", "c:list.yaml", ".list.yaml", "", "a\nb"]
)
def test_a_file_by_a_path_does_not_pass(name):
    with pytest.raises(Turn, match="name"):
        started_of(of_file(started().procedures.text, name))


def test_a_run_begins_once_and_with_its_beginning():
    first = event_to_json(started())
    check(0, first)
    with pytest.raises(Turn, match="again"):
        check(1, first)
    with pytest.raises(Turn, match="no beginning"):
        check(0, event_to_json(Paused(1)))


@pytest.mark.parametrize(
    "text",
    ["", "[]", "null", "{", '{"is":"Nothing"}', "[" * 100_000, '{"is":["x"]}'],
)
def test_what_is_no_event_does_not_pass(text):
    with pytest.raises(Turn):
        event_of(text)
