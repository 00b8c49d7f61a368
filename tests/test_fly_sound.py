"""A whole list by voice alone, through real audio devices, with wrong answers among the right.

The voices are flite's and festival's recorded ones: people's, cut up and put together
again. They are among the matcher's own templates, so for the matcher they speak at another
pitch and tempo. What is held here is what must never happen: a wrong answer, another item's answer,
chatter or silence taken for the right one.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from flying import ANSWERS, CHALLENGES, WEIGHT
from sound import SoundSystem, strangers, voices
from voice_crew import Decision, VoiceFlight, table

pytestmark = pytest.mark.sound

WRONG = {
    "Runway surface": "runway checked",
    "Flaps": "flaps ten",
    "Trim tabs": "set for landing",
    "Flight controls": "controls locked",
    "Mixtures": "auto lean",
    "Blowers": "high blower",
    "Boost pumps": "low boost",
    "Cowl flaps": "fully open",
    "Carburettor heat": "full hot",
    "Anti-detonant injection": "switches off",
    "Automatic feathering": "not armed",
    "Take-off RPM": "twenty six hundred",
    "Take-off manifold pressure": "fifty seven",
    "Minimum BMEP": "two twenty",
    "Decision speed": "two nine",
    "Rotate": "six nine",
    "Safety speed": "one five oh",
}
"""At each challenge, what is nearly right and must not pass."""

CHATTER = (
    "I will call you back after lunch about the weekend",
    "the weather looks better in the north this morning",
    "could somebody close the door behind me please",
    "traffic on final is a heavy behind a light",
)

DIGIT_BY_DIGIT = {
    "twenty six fifty": "two, six, five, zero",
    "fifty one": "five, one",
    "two oh two": "two, zero, two",
    "nine two": "nine, two",
    "nine six": "nine, six",
    "one oh five": "one, zero, five",
}
"""Numbers as they are said again to somebody who has not understood, with pauses."""

HURRIED_TRIES = 2
"""So many times a number is said in one breath before it is said digit by digit."""

TRIES = 12


@pytest.fixture(params=["pocketsphinx", "matcher", "vosk"])
def recogniser(request: pytest.FixtureRequest) -> str:
    if request.param == "vosk" and not os.environ.get("RUNNER_VOSK_MODEL"):
        pytest.skip("no Vosk model here: RUNNER_VOSK_MODEL names none")
    if request.param == "matcher" and not strangers():
        pytest.skip("no sox here to change the voices with")
    return str(request.param)


def intrusions(place: int) -> list[tuple[str, str]]:
    """What comes before the right answer at this challenge: wrong, other, chatter, silence."""
    challenge = CHALLENGES[place]
    others = [a for a in ANSWERS if a not in (ANSWERS[place], WRONG[challenge])]
    return [
        [("wrong answer", WRONG[challenge])],
        [("another item's answer", others[(place * 5) % len(others)])],
        [("wrong answer", WRONG[challenge]), ("chatter", CHATTER[place % len(CHATTER)])],
        [("silence", "")],
    ][place % 4]


@pytest.mark.slow
def test_a_whole_list_by_voice_lets_nothing_wrong_pass(
    sound: SoundSystem, tmp_path: Path, recogniser: str
) -> None:
    crew = strangers() if recogniser == "matcher" else voices()
    flight = VoiceFlight(
        sound,
        tmp_path,
        *("--phase", "before-takeoff", "--set", WEIGHT, "--recogniser", recogniser),
    )
    decisions: list[Decision] = []
    try:
        flight.wait_for("Runner: Before take-off checklist")
        flight.wait_until_heard()
        for place, challenge in enumerate(CHALLENGES):
            for kind, text in intrusions(place):
                decisions.append(flight.say(challenge, kind, text, crew[place % len(crew)]))
            for attempt in range(TRIES):
                voice = crew[(place + attempt) % len(crew)]
                kind = "right answer" if attempt == 0 else "right answer, again"
                text = ANSWERS[place]
                if attempt >= HURRIED_TRIES:
                    text = DIGIT_BY_DIGIT.get(text, text)
                decisions.append(flight.say(challenge, kind, text, voice))
                if decisions[-1].decided == "accepted":
                    break
        status = flight.finish()
    finally:
        flight.stop()
        print(f"\n{recogniser}\n{table(decisions)}")
        for d in decisions:
            print(f"{d.challenge:<27} {d.kind:<22} {d.voice:<31} {d.said!r}: {d.decided} {d.heard}")
    rights = ("right answer", "right answer, again")
    wrongly = [d for d in decisions if d.kind not in rights and d.decided in ("accepted", "acted")]
    assert not wrongly
    assert not [d for d in decisions if d.decided == "acted"]
    assert status == 0
