"""The right typed answers to the shipped lists at given inputs, made from the files alone."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from runner.checklist.load import load_procedures
from runner.checklist.model import (
    Checklist,
    Choice,
    Enter,
    Item,
    Procedures,
    Readback,
    Reading,
    Text,
    Words,
)
from runner.figures.figure import Figure
from runner.figures.sheet import Sheet
from runner.phrasing.pattern import parse

PROCEDURES = "whimbrel-four.yaml"


def shipped() -> Procedures:
    """The shipped procedures with their aircraft."""
    return load_procedures(PROCEDURES)


def figures(procedures: Procedures, **given: float | str) -> Mapping[str, Figure]:
    """The sheet's figures at the given inputs."""
    return Sheet(procedures.aircraft).work_out(given).figures


def applies(item: Item | Checklist, known: Mapping[str, Figure]) -> bool:
    """Whether an item's or a list's condition holds."""
    values = {name: figure.value for name, figure in known.items()}
    return item.condition is None or bool(item.condition.evaluate(values))


def answer(item: Item, known: Mapping[str, Figure]) -> str | None:
    """What answers an item rightly; None for a line that is only spoken."""
    response = item.response.words if isinstance(item.response, Reading) else item.response
    if isinstance(response, Words):
        return _first(response.pattern, known)
    if isinstance(response, Readback):
        return known[response.figure].shown
    if isinstance(response, Enter):
        return known[response.input].shown
    if isinstance(response, Choice):
        return _first(dict(response.options)[str(known[response.keep].value)], known)
    return None


def list_answers(checklist: Checklist, known: Mapping[str, Figure]) -> Iterator[str]:
    """Everything that is said to a list from its beginning to its end, its call left out."""
    if checklist.kind == "callouts" or not applies(checklist, known):
        return
    if checklist.kind == "flow":
        yield "flow complete"
    for item in checklist.items:
        said = answer(item, known) if applies(item, known) else None
        if said is not None:
            if item.confirm:
                yield "affirm"
            yield said
    if checklist.kind == "briefing":
        yield "briefing complete"


def flight_answers(procedures: Procedures, known: Mapping[str, Figure]) -> Iterator[str]:
    """Everything that is said in the whole flight.

    A list that starts on call is called by name, and so is the first of a new phase.
    """
    for number, phase in enumerate(procedures.phases):
        new = number > 0
        for checklist in phase.lists:
            said = list(list_answers(checklist, known))
            if said and (new or checklist.start == "on call"):
                yield f"{checklist.title} list"
            new = new and not said
            yield from said


def _first(text: Text, known: Mapping[str, Figure]) -> str:
    filled = "".join(p if isinstance(p, str) else known[p.name].shown for p in text.parts)
    return parse(filled).canonical
