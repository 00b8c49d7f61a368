"""How long a silence ends an utterance: short after a whole answer, longer where more may come."""

from __future__ import annotations

from functools import lru_cache

from runner.engine.effects import Listen
from runner.engine.events import Verdict
from runner.voice.text import NUMBER, number_in, pattern_of

FIRST_LOOK = 0.08
"""Seconds of silence after which what was said so far is looked at."""

COMPLETE = 0.16
"""Seconds of silence that end an answer to which nothing can be added."""

MAY_GROW = 0.42
"""Seconds of silence that end an answer that begins a longer one: synthetic voices pause for 0.12
at most within a phrase, people for longer."""

MORE_DIGITS = 0.55
"""Seconds of silence that end a number of which more may come. Of people's strings of three and
four digits with gaps of 80 to 200 ms, the gate hears one in twenty with a longer silence inside,
because a soft end of a digit counts as silence; with 0.4 it would be one in six."""

UNKNOWN = 0.65
"""Seconds of silence that end anything else: somebody may be looking for a word."""

_MORE_OF_A_NUMBER = (
    "zero/one/two/three/four/five/six/seven/eight/nine/ten/twenty/fifty/hundred/thousand/"
    "two hundred/hundred and five"
)
_MORE_DECIMALS = "/point five/decimal five/and a half"


def silence_needed(verdict: Verdict, listen: Listen, noisy: bool = False) -> float:
    """Seconds of silence after which this verdict stands.

    In noise what is soft within a phrase counts as silence: half of "are set for take off" is
    near to "not set". So there nothing ends as soon as it might be complete.
    """
    if verdict.decision != "accept":
        return UNKNOWN
    if not can_grow(verdict.text, listen, verdict.candidate):
        return MAY_GROW if noisy else COMPLETE
    return MORE_DIGITS if verdict.candidate == NUMBER else MAY_GROW


@lru_cache(maxsize=64)
def can_grow(words: str, listen: Listen, candidate: str | None = None) -> bool:
    """Whether the words begin something longer that may be said in this window.

    What would only say the same ``candidate`` at greater length is not waited for. Kept,
    because it is asked again with every frame of the silence.
    """
    start = words + " "
    if any(name != candidate and text.startswith(start) for name, text in _texts(listen)):
        return True
    wanted = listen.number
    said = number_in(words, wanted) if wanted is not None else None
    if wanted is None or said is None:
        return False
    endings = _MORE_OF_A_NUMBER + (_MORE_DECIMALS if wanted.form.decimals else "")
    for more in endings.split("/"):
        value = number_in(f"{words} {more}", wanted)
        if value is None or value == said or not wanted.low <= value <= wanted.high:
            continue
        if round(value, wanted.form.decimals) == value:
            return True
    return False


@lru_cache(maxsize=8)
def _texts(listen: Listen) -> tuple[tuple[str, str], ...]:
    return tuple(
        (candidate.id, text)
        for candidate in listen.candidates
        for text in pattern_of(candidate.pattern).texts()
    )
