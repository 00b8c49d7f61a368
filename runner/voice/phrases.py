"""What a run's procedures are answered with, as patterns.

Templates are made ahead of what has none, and what one item is answered with is no answer of
another: a recogniser that knows it hears it as itself.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import product

from runner.checklist.model import Choice, Enter, Item, Reading, Text, Words
from runner.engine.lines import pattern_text
from runner.engine.program import Program
from runner.figures.figure import Figure


def answers_of(program: Program) -> tuple[str, ...]:
    """The patterns that items are answered with in words, right or wrong, each once.

    Those of most items first. What quotes a number is left out: it is not the same for long.
    """
    found = Counter(source for item in program.items.values() for source in _answers(program, item))
    return tuple(source for source, _ in found.most_common())


def _answers(program: Program, item: Item) -> Iterator[str]:
    response = item.response
    words = response.words if isinstance(response, Reading) else response
    texts: tuple[Text, ...] = ()
    match words:
        case Words():
            texts = (words.pattern, *words.confusable)
        case Choice(options=options):
            texts = tuple(text for _, text in options)
        case Enter(input=name):
            wanted = program.procedures.aircraft.inputs.get(name)
            for value in wanted.choices if wanted is not None else ():
                yield value.replace("_", " ")
    for text in texts:
        if not numbers_quoted(program, text):
            for engine in engines_of(program, item, text):
                yield from filled(program, text, engine)


def engines_of(program: Program, item: Item, text: Text) -> tuple[int | None, ...]:
    """The engines that an item may be asked for: one, or each where its text quotes it."""
    if item.engine is not None or "engine" not in text.figures:
        return (item.engine,)
    return tuple(range(1, program.procedures.aircraft.engines + 1))


def numbers_quoted(program: Program, text: Text) -> tuple[str, ...]:
    """The figures in a pattern that are numbers: what it is then is known in flight alone."""
    inputs = program.procedures.aircraft.inputs
    names = sorted(text.figures - {"engine"})
    return tuple(name for name in names if name not in inputs or not inputs[name].choices)


def filled(program: Program, text: Text, engine: int | None) -> Iterator[str]:
    """A pattern that quotes no number, once for each value of the choices in it."""
    inputs = program.procedures.aircraft.inputs
    names = sorted(text.figures - {"engine"})
    for values in product(*(inputs[name].choices for name in names)):
        figures = {n: Figure(n, v, kind="words") for n, v in zip(names, values, strict=True)}
        yield pattern_text(program, text, figures, engine)
