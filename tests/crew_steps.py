"""What two people say in a whole flight, list by list: each answer, whose it is, and how asked."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import yaml

from runner.checklist.load import find_file
from runner.checklist.model import Checklist, Enter, Item, Procedures, Readback, Reading, Text
from runner.figures.figure import Figure
from runner.phrasing.numeral_words import DIGIT_WORDS
from shipped_answers import answer, applies, list_answers


@dataclass(frozen=True)
class Step:
    """One thing that is said: to which list and challenge, by which role ('' for anybody).

    ``asked`` are beginnings of how the challenge is put, the full and the short one.
    """

    title: str
    asked: tuple[str, ...]
    role: str
    said: str
    typed: str
    both: bool = False
    number: bool = False
    whole: bool = False
    """It is said to a whole flow or briefing, not to an item."""


def by_digits(shown: str) -> str:
    """A number as it is said digit by digit, with pauses."""
    whole, _, part = shown.partition(".")
    words = [DIGIT_WORDS[int(digit)] for digit in whole if digit.isdigit()]
    if part.strip("0"):
        words += ["point", *(DIGIT_WORDS[int(digit)] for digit in part)]
    return ", ".join(words)


def shortened(folder: Path) -> Path:
    """The shipped flight with the critical items of its challenge-and-response lists alone.

    Every such list is kept: one that has none critical keeps its first item.
    """
    source = find_file("whimbrel-four", ("checklists",))
    content = yaml.load(source.read_text("utf-8"), yaml.BaseLoader)
    kept: set[str] = set()
    for phase in content["phases"]:
        lists = [one for one in phase["lists"] if one["kind"] == "challenge and response"]
        phase["lists"] = lists
        for checklist in lists:
            items = [
                item
                for item in checklist["items"]
                if item.get("critical") == "yes" or item.get("same as") in kept
            ]
            checklist["items"] = items or checklist["items"][:1]
            kept |= {f"{checklist['list']}.{item['id']}" for item in items if "id" in item}
    content["phases"] = [phase for phase in content["phases"] if phase["lists"]]
    shutil.copy(source.with_name(content["aircraft"]), folder)
    file = folder / "shortened.yaml"
    file.write_text(yaml.safe_dump(content, sort_keys=False), "utf-8")
    return file


def steps(procedures: Procedures, known: dict[str, Figure]) -> Iterator[Step]:
    """What is said in these procedures from the first list to the last."""
    for number, phase in enumerate(procedures.phases):
        new = number > 0
        for checklist in phase.lists:
            if not list(list_answers(checklist, known)):
                continue
            # A list that starts on call and the first of a phase are offered by name.
            if new or checklist.start == "on call":
                yield Step(checklist.title, (), "", "continue", "continue")
            new = False
            yield from _of_list(checklist, known)


def _of_list(checklist: Checklist, known: dict[str, Figure]) -> Iterator[Step]:
    title = checklist.title
    if checklist.kind == "flow":
        yield Step(
            title, (title,), checklist.responder, "flow complete", "flow complete", whole=True
        )
    for item in checklist.items:
        said = answer(item, known) if applies(item, known) else None
        if said is None:
            continue
        number = _is_number(item) and any(map(str.isdigit, said))
        shown = re.sub(r"[^0-9.]", "", said)
        yield Step(
            title,
            tuple(_lead(text) for text in (item.challenge, item.short) if text is not None),
            item.who or checklist.responder,
            by_digits(shown) if number else said,
            shown if number else said,
            both=item.both,
            number=number,
        )
    if checklist.kind == "briefing":
        yield Step(
            title,
            (title,),
            checklist.responder,
            "briefing complete",
            "briefing complete",
            whole=True,
        )


def _is_number(item: Item) -> bool:
    response = item.response
    words = response.words if isinstance(response, Reading) else response
    return isinstance(words, Readback | Enter)


def _lead(text: Text) -> str:
    """The beginning of a text up to the first figure in it."""
    first = text.parts[0] if text.parts else ""
    return first.rstrip(", ") if isinstance(first, str) else ""
