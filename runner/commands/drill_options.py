"""The arguments of ``runner drill``."""

from __future__ import annotations

import argparse
from collections.abc import Callable

from runner.practice.kinds import KINDS

MIXED = "mixed"

USUAL_MINUTES = 10.0
"""How long a drill is where nothing else is said."""

MOST_QUESTIONS = 1000
MOST_MINUTES = 240.0


def add_drill(
    sub: argparse.ArgumentParser, add_set: Callable[[argparse.ArgumentParser], None]
) -> None:
    """The arguments of ``runner drill``."""
    sub.add_argument(
        "procedures",
        nargs="?",
        default="whimbrel-four",
        metavar="PROCEDURES",
        help="a procedures file, or the name of a shipped one (whimbrel-four, sanderling)",
    )
    sub.add_argument(
        "--kind",
        choices=(MIXED, *KINDS),
        default=MIXED,
        help="response: a challenge, its answer; next: the item that follows; flow: a whole "
        "flow from memory, then verified; numbers: figures for a load and a day; wrong: catch "
        "the co-pilot's wrong answers; memory: memory items against the clock; mixed (the "
        "default): all of them, what is due first",
    )
    where = sub.add_mutually_exclusive_group()
    where.add_argument("--phase", default="", metavar="ID", help="that phase's lists alone")
    where.add_argument("--list", default="", metavar="ID", help="that list alone")
    sub.add_argument("--minutes", type=float, default=0.0, help="how long (10, if nothing is said)")
    sub.add_argument("--questions", type=int, default=0, help="how many questions at most")
    sub.add_argument("--seed", type=int, default=None, help="the same questions again")
    sub.add_argument("--due", action="store_true", help="say what is due, and do no more")
    add_set(sub)
    sub.add_argument("--screen", choices=("full", "plain"), default="full", help="plain: lines")
    sub.add_argument("--speak", default="speaker", metavar="HOW", help="speaker, none, or wav:DIR")
    sub.add_argument(
        "--listen",
        default="mic",
        metavar="HOW",
        help="mic (the default), keys, none, text:FILE (text:- is standard input, a line an "
        "utterance, an empty one a silence) or wav:FILE",
    )
    sub.add_argument(
        "--recogniser",
        choices=("auto", "matcher", "vosk", "pocketsphinx", "whisper"),
        default="auto",
        help="who listens",
    )
    sub.add_argument("--voice", default="", metavar="STYLE", help="cockpit, icao, faa, or a file")
    sub.add_argument("--loudspeaker", action="store_true", help="no headset")
    sub.add_argument("--speaker-name", default="", metavar="NAME", help="a part of its name")
    sub.add_argument("--microphone-name", default="", metavar="NAME", help="a part of its name")
    sub.add_argument("--clock", choices=("real", "fast"), default="real", help="fast: virtual")
    sub.add_argument("--logbook", default="", metavar="FILE", help="where progress is stored")
