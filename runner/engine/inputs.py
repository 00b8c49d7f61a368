"""Inputs of the aircraft given by key in the middle of a run."""

from __future__ import annotations

from runner.engine.lines import form_of, number_line, plain
from runner.engine.lists import set_input
from runner.engine.speaking import Turn
from runner.figures.figure import Figure


def give_input(turn: Turn, name: str, text: str) -> None:
    """Give an input of the aircraft as it was typed, a unit optional.

    What is no input, no value of it, or out of its range is said and changes nothing.
    """
    from runner.errors import RunnerError
    from runner.figures.given import read_given

    aircraft = turn.program.procedures.aircraft
    try:
        value = read_given(aircraft, (f"{name}={text}",))[name]
    except RunnerError as error:
        turn.note(str(error), "advice")
        return
    wanted = aircraft.inputs[name]
    if isinstance(value, float) and not wanted.low <= value <= wanted.high:
        form = form_of(Figure(name, value, wanted.unit, wanted.decimals, wanted.kind))
        turn.say_first(
            "out_of_range",
            name=plain(turn.program, wanted.title),
            low=number_line(turn.program, wanted.low, form),
            high=number_line(turn.program, wanted.high, form),
        )
        turn.note(f"{wanted.title} {text}: out of its range", "advice")
        return
    set_input(turn, name, value)
