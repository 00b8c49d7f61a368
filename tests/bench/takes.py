"""How well takes are checked: the thresholds of ``take_checks`` and ``retune``, chosen and held.

    RUNNER_SPEECH_DATA=FOLDER python tests/bench/takes.py

Both are chosen on one half of the speakers (``tests/speech_data.py``) and reported on the
other: ``DOUBTED`` as the lowest ratio (in hundredths) at which at most one good phrase in
twenty is doubted; ``NEAR`` as the highest nearness (in hundredths) at which no take of an
enrolled phrase and at most one in a hundred of a strange word is let in as another phrase. What
is printed as chosen has to stand in those files.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Sequence
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

import speech_data  # noqa: E402
from runner.voice import retune, take_checks  # noqa: E402
from runner.voice.embedding import Embedder  # noqa: E402
from take_people import Doubts, Nearness, doubts, nearness, people  # noqa: E402

GOOD_DOUBTED = 0.05
STRANGE_KEPT = 0.01


def share(count: int, of: int) -> str:
    """A share with Wilson's 95 % bounds (E. B. Wilson, 1927)."""
    if not of:
        return "none"
    z, p = 1.96, count / of
    middle = (p + z * z / (2 * of)) / (1 + z * z / of)
    reach = z * math.sqrt(p * (1 - p) / of + z * z / (4 * of * of)) / (1 + z * z / of)
    low, high = max(0.0, middle - reach), min(1.0, middle + reach)
    return f"{count} of {of}, {p:.1%} ({low:.1%} to {high:.1%})"


def chosen_doubted(found: Doubts) -> float:
    """The lowest ratio from which few enough good phrases are doubted."""
    for hundredths in range(80, 121):
        if sum(r > hundredths / 100 for r in found.good) <= GOOD_DOUBTED * len(found.good):
            return hundredths / 100
    return 1.2


def chosen_near(found: Nearness) -> float:
    """The highest nearness that lets no take of another phrase in, and few strange words."""
    for hundredths in range(100, 30, -1):
        limit = hundredths / 100
        wrong = sum(r <= limit for r in (*found.opposite, *found.another))
        strange = sum(r <= limit for r in found.strange)
        if not wrong and strange <= STRANGE_KEPT * len(found.strange):
            return limit
    return 0.3


def show_doubts(found: Doubts, limit: float) -> None:
    """What is doubted from a ratio on."""
    print(f"  good phrases doubted: {share(sum(r > limit for r in found.good), len(found.good))}")
    for name, kind in (("of another phrase", found.another), ("of no phrase", found.strange)):
        seen = [named for ratio, named in kind if ratio > limit]
        print(f"  one take {name} found: {share(len(seen), len(kind))}; named in {sum(seen)}")


def show_nearness(found: Nearness, limit: float) -> None:
    """What is let in up to a nearness."""

    def let_in(ratios: Sequence[float]) -> str:
        return share(sum(ratio <= limit for ratio in ratios), len(ratios))

    print(f"  its own further takes let in: {let_in(found.right)}")
    print(f"  its opposite's: {let_in(found.opposite)}")
    print(f"  another enrolled phrase's: {let_in(found.another)}")
    print(f"  of words that are not enrolled: {let_in(found.strange)}")


def main() -> int:
    """Print what is chosen and what it gives; 1 where the files say otherwise."""
    home = speech_data.home()
    if home is None:
        print("RUNNER_SPEECH_DATA names no folder of recordings", file=sys.stderr)
        return 2
    embedder = Embedder()
    fitting, reported = people(home, fitting=True), people(home, fitting=False)
    doubted = chosen_doubted(doubts(fitting, embedder))
    near = chosen_near(nearness(fitting, embedder))
    print(f"{len(fitting)} speakers to choose on, {len(reported)} to report on")
    print(f"DOUBTED: chosen {doubted:.2f}, in take_checks {take_checks.DOUBTED:.2f}")
    for name, half in (("chosen on", fitting), ("reported", reported)):
        print(f" {name}")
        show_doubts(doubts(half, embedder), take_checks.DOUBTED)
    print(f"NEAR: chosen {near:.2f}, in retune {retune.NEAR:.2f}")
    for name, half in (("chosen on", fitting), ("reported", reported)):
        print(f" {name}")
        show_nearness(nearness(half, embedder), retune.NEAR)
    return int((doubted, near) != (take_checks.DOUBTED, retune.NEAR))


if __name__ == "__main__":
    sys.exit(main())
