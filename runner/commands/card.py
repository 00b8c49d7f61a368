"""``runner card``: the data card of an aircraft, and how one figure came about."""

from __future__ import annotations

import argparse
import difflib

from runner.errors import RunnerError


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
    known = (*aircraft.inputs, *aircraft.figures)
    if arguments.why not in known:
        near = difflib.get_close_matches(arguments.why, known, n=1)
        hint = f"did you mean {near[0]}?" if near else "runner card prints all names"
        raise RunnerError(f"--why {arguments.why}: {aircraft.name} has no such figure; {hint}")
    for line in worked.why(arguments.why):
        print(line)
    return 0
