"""How long a silence ends an answer: at once where nothing can follow, later where more may."""

from __future__ import annotations

import pytest

from runner.engine.effects import Candidate, Listen, NumberWanted
from runner.engine.events import Verdict
from runner.phrasing.style import Form, Kind
from runner.voice.endpoint import (
    COMPLETE,
    FIRST_LOOK,
    MAY_GROW,
    MORE_DIGITS,
    UNKNOWN,
    can_grow,
    silence_needed,
)

BLOWERS = Listen(
    1,
    (
        Candidate("answer", "answer", "(blowers)? (low / low blower)"),
        Candidate("wrong:0", "competitor", "(blowers)? (high / high blower)"),
        Candidate("control:say_again", "control", "say again (please)?"),
    ),
)
TRIM = Listen(
    2,
    (
        Candidate("answer", "answer", "set"),
        Candidate("wrong:0", "competitor", "set for landing"),
    ),
)


def number(kind: Kind, decimals: int, unit: str, low: float, high: float, name: str = "") -> Listen:
    return Listen(3, (), NumberWanted(Form(kind, decimals, unit), low, high, name))


SPEED = number("speed", 0, "kt", 0, 999, "rotate")
RPM = number("rpm", 0, "rpm", 0, 9999)
INCHES = number("manifold_pressure", 1, "inHg", 0, 99)
ALTITUDE = number("altitude", 0, "ft", -2000, 99_999)


def accepted(text: str, candidate: str = "number", value: float | None = 1.0) -> Verdict:
    return Verdict("accept", candidate, value, text)


def test_what_was_said_is_looked_at_before_any_silence_ends_it() -> None:
    assert FIRST_LOOK < COMPLETE < MAY_GROW < MORE_DIGITS < UNKNOWN


def test_a_whole_answer_ends_at_once_though_the_same_could_be_said_at_greater_length() -> None:
    assert silence_needed(accepted("low", "answer", None), BLOWERS) == COMPLETE
    assert silence_needed(accepted("say again", "control:say_again", None), BLOWERS) == COMPLETE


def test_an_answer_that_begins_a_wrong_one_waits_until_that_would_have_come() -> None:
    assert silence_needed(accepted("set", "answer", None), TRIM) == MAY_GROW
    assert silence_needed(accepted("set for landing", "wrong:0", None), TRIM) == COMPLETE


@pytest.mark.parametrize(
    ("listen", "said"),
    [
        (SPEED, "one"),
        (SPEED, "one oh"),
        (SPEED, "rotate one oh"),
        (RPM, "two"),
        (RPM, "twenty six"),
        (RPM, "twenty six fifty"),
        (INCHES, "fifty one"),
        (ALTITUDE, "eight thousand"),
    ],
)
def test_a_number_waits_for_the_digits_that_may_follow(listen: Listen, said: str) -> None:
    assert can_grow(said, listen)
    assert silence_needed(accepted(said), listen) == MORE_DIGITS


@pytest.mark.parametrize(
    ("listen", "said"),
    [
        (SPEED, "one oh five"),
        (SPEED, "one hundred and five"),
        (SPEED, "rotate one oh five"),
        (RPM, "two six five zero"),
        (INCHES, "fifty one point five"),
        (INCHES, "fifty one and a half"),
    ],
)
def test_a_number_with_all_its_digits_ends_at_once(listen: Listen, said: str) -> None:
    assert not can_grow(said, listen)
    assert silence_needed(accepted(said), listen) == COMPLETE


@pytest.mark.parametrize("decision", ["unclear", "reject"])
def test_what_is_no_answer_yet_waits_longest(decision: str) -> None:
    verdict = Verdict(decision, text="both")  # type: ignore[arg-type]
    assert silence_needed(verdict, BLOWERS) == UNKNOWN
