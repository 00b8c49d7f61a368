"""How much alike answers sound, against a pronouncing dictionary and known confusions."""

from __future__ import annotations

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


@pytest.mark.outside
def test_spelling_rules_agree_with_the_cmu_pronouncing_dictionary() -> None:
    # CMU Pronouncing Dictionary, as it comes with PocketSphinx's English model.
    pocketsphinx = pytest.importorskip("pocketsphinx")
    decoder = pocketsphinx.Decoder(lm=None, loglevel="FATAL")
    same = []
    for word in TRADE.split():
        outside = decoder.lookup_word(word).split()
        ours = phonemes(word)
        assert len(ours) - len(outside) in (-1, 0, 1), (word, ours, outside)
        same.append(sum(a == b for a, b in zip(ours, outside, strict=False)) / len(outside))
    assert sum(same) / len(same) > 0.9
