"""How much alike answers sound, against a pronouncing dictionary and known confusions."""

from __future__ import annotations

from collections.abc import Sequence

import pocketsphinx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runner.phrasing.similar import ALIKE, phonemes, sounds_alike


@pytest.mark.parametrize(("a", "b"), [("on", "off"), ("low", "no"), ("go", "no"), ("on", "own")])
def test_short_words_that_are_mistaken_for_each_other_sound_alike(a: str, b: str) -> None:
    # On and off, low and no, on and own: confusions measured with recognisers.
    assert sounds_alike(a, b) >= ALIKE


@pytest.mark.memory
@pytest.mark.parametrize(("a", "b"), [("five", "nine"), ("fifteen", "fifty"), ("sixteen", "sixty")])
def test_figures_that_the_radio_tells_apart_sound_alike(a: str, b: str) -> None:
    # Common practice: "niner" and "fife" exist because nine and five are taken for each other.
    assert sounds_alike(a, b) >= ALIKE
    assert sounds_alike("fife", "niner") < sounds_alike("five", "nine")


@pytest.mark.parametrize(
    ("a", "b"),
    [
        ("up", "down"),
        ("open", "closed"),
        ("dry", "wet"),
        ("left", "right"),
        ("high", "low"),
        ("yes", "no"),
        ("on", "up"),
        ("set", "extinguished"),
        ("feathered", "idle cut off"),
    ],
)
def test_answers_that_are_safe_together_do_not_sound_alike(a: str, b: str) -> None:
    assert sounds_alike(a, b) < ALIKE


def test_long_answers_that_differ_in_one_short_word_sound_alike() -> None:
    assert sounds_alike("landing lights on", "landing lights off") > sounds_alike("on", "off")


def test_the_same_words_in_another_spelling_are_the_same() -> None:
    assert sounds_alike("Flaps 20", "flaps twenty!") == 1
    assert sounds_alike("", "...") == 1
    assert sounds_alike("on", "") == 0
    assert sounds_alike("日本", "中国") == 0


@given(st.text(max_size=20), st.text(max_size=20))
@settings(deadline=None)
def test_likeness_is_a_share_and_the_same_either_way(a: str, b: str) -> None:
    alike = sounds_alike(a, b)
    assert 0 <= alike <= 1
    assert alike == pytest.approx(sounds_alike(b, a))
    assert sounds_alike(a, a) == 1


TRADE = """
up down left low high open closed set checked extended armed disarmed auto rich lean cut flaps
landing lights gear parking propeller mixture throttle blower flap tank pump battery master switch
heat trim rudder free locked unlocked doors windows seat belt belts ice boost nose wheel oil green
zero one two three four five six seven eight nine ten twelve fifteen fifty twenty hundred thousand
knots inches feet pounds complete briefing flow reject wet dry damp grass runway wind both idle
feather fine coarse ground flight test tested bleed aft start stop abandon radar pressure
"""


@pytest.fixture(scope="module")
def decoder() -> pocketsphinx.Decoder:
    """The dictionary that comes with PocketSphinx's English model."""
    return pocketsphinx.Decoder(lm=None, loglevel="FATAL")


def changes(one: Sequence[str], other: Sequence[str]) -> int:
    """The fewest sounds put in, left out or changed that make one from the other."""
    row = list(range(len(other) + 1))
    for count, sound in enumerate(one, 1):
        before, row = row, [count]
        for at, heard in enumerate(other, 1):
            row.append(min(before[at] + 1, row[-1] + 1, before[at - 1] + (sound != heard)))
    return row[-1]


@pytest.mark.outside
@pytest.mark.parametrize(
    "word",
    [
        pytest.param(word, id=f"CMU Pronouncing Dictionary, as in PocketSphinx >=5.0.4: {word}")
        for word in TRADE.split()
    ],
)
def test_a_word_of_the_trade_sounds_as_in_the_dictionary(
    decoder: pocketsphinx.Decoder, word: str
) -> None:
    # A vowel or an ending in another colour is allowed, one sound in three at most.
    outside = decoder.lookup_word(word).split()
    assert changes(phonemes(word), outside) <= len(outside) / 3


def test_nine_words_of_the_trade_in_ten_sound_exactly_as_in_the_dictionary(
    decoder: pocketsphinx.Decoder,
) -> None:
    words = TRADE.split()
    exact = [word for word in words if list(phonemes(word)) == decoder.lookup_word(word).split()]
    assert len(exact) >= 0.9 * len(words)
