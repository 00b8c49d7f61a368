"""``runner card``: the data card of an aircraft, and how one figure came about."""

from __future__ import annotations

import argparse


def card(arguments: argparse.Namespace) -> int:
    """Print the card or, with ``--why``, the working of one figure."""
    from runner.checklist.cache import load_aircraft_cached
    from runner.figures.card import card_lines
    from runner.figures.given import read_given
    from runner.figures.sheet import Sheet

    aircraft = load_aircraft_cached(arguments.aircraft)
    worked = Sheet(aircraft).work_out(read_given(aircraft, arguments.set))
    if not arguments.why:
        for line in card_lines(worked, aircraft):
            print(line)
        return 0
    for line in worked.why(arguments.why):
        print(line)
    return 0
