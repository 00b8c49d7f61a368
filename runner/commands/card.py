"""``runner card``: the data card of an aircraft, its pictures, and how figures came about."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from runner.errors import RunnerError

if TYPE_CHECKING:
    from runner.figures.model import Picture
    from runner.figures.sheet import Sheet, Worked


def card(arguments: argparse.Namespace) -> int:
    """Print the card or, where they are asked for, workings and pictures instead."""
    from runner.checklist.cache import load_aircraft_cached
    from runner.figures.given import read_given
    from runner.figures.sheet import Sheet

    aircraft = load_aircraft_cached(arguments.aircraft)
    given = read_given(aircraft, arguments.set)
    reported: dict[str, float | str] = {}
    notes: list[str] = []
    if arguments.metar is not None:
        from runner.figures.weather_inputs import given_from_metar

        report = given_from_metar(aircraft, arguments.metar)
        reported = {name: value for name, value in report.given.items() if name not in given}
        notes = [note for name, note in report.left.items() if name not in given]
    sheet = Sheet(aircraft)
    worked = sheet.work_out({**reported, **given})
    if arguments.why or arguments.chart is not None or arguments.plot is not None:
        for note in notes:
            print(note, file=sys.stderr)
        _show(arguments, sheet, worked)
        return 0
    from runner.figures.card import card_schedules, data_card
    from runner.figures.card_formats import card_csv, card_json
    from runner.figures.card_table import print_card

    made = data_card(worked, card_schedules(sheet, worked), reported, notes)
    if arguments.format == "json":
        print(card_json(made))
    elif arguments.format == "csv":
        print(card_csv(made), end="")
    else:
        print_card(made, sys.stdout)
    return 0


def _show(arguments: argparse.Namespace, sheet: Sheet, worked: Worked) -> None:
    blocks = [worked.why(name) for name in arguments.why]
    if arguments.chart is not None:
        blocks.append(tuple(_chart(sheet, worked, arguments.chart)))
    print("\n\n".join("\n".join(block) for block in blocks), end="\n" if blocks else "")
    if arguments.plot is not None:
        from runner.plot.image import draw_pictures

        count = draw_pictures(sheet, worked, Path(arguments.plot))
        print(f"{arguments.plot}: {count} {'picture' if count == 1 else 'pictures'}")


def _chart(sheet: Sheet, worked: Worked, name: str) -> list[str]:
    from runner.figures.card import WARNING
    from runner.plot.diagram import diagrams_of
    from runner.plot.text import diagram_lines

    lines: list[str] = []
    for diagram in diagrams_of(sheet, worked, _picture(worked, name)):
        lines += [*diagram_lines(diagram), ""]
    return [*lines, WARNING]


def _picture(worked: Worked, name: str) -> Picture:
    from runner.figures.scope import near

    craft = worked.aircraft
    picture = craft.pictures.get(name)
    if picture is None:
        if not craft.pictures:
            raise RunnerError(f"{craft.name} has no pictures")
        hint = near(name, craft.pictures) or f"; it has {', '.join(craft.pictures)}"
        raise RunnerError(f"{craft.name} has no picture {name}{hint}")
    return picture
