"""From a card to the question that is put: by its kind and its level of difficulty."""

from __future__ import annotations

from collections.abc import Mapping
from random import Random

from runner.engine.program import Program
from runner.figures.sheet import Sheet
from runner.practice.cards import Card, Figures
from runner.practice.catch_it import wrong
from runner.practice.exercise import Exercise
from runner.practice.from_memory import flow
from runner.practice.in_order import memory
from runner.practice.one_answer import next_item, numbers, response


def make(
    program: Program,
    sheet: Sheet,
    given: Mapping[str, float | str],
    figures: Figures,
    card: Card,
    level: int,
    random: Random,
) -> Exercise:
    """The question of a card; a list that is about one engine is about any of them.

    Raises RunnerError where a figure cannot be asked for.
    """
    engine = random.randint(1, max(1, program.procedures.aircraft.engines))
    match card.kind:
        case "response":
            return response(program, figures, card, level, engine)
        case "next":
            return next_item(program, figures, card, level, engine)
        case "flow":
            return flow(program, figures, card, level, engine)
        case "numbers":
            return numbers(program, sheet, given, card, level, random)
        case "wrong":
            return wrong(program, figures, card, level, engine, random)
        case "memory":
            return memory(program, figures, card, level, engine)
