"""Items of a list: the challenge, and every kind of response."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, replace

from runner.checklist.context import Context
from runner.checklist.fields import Fields
from runner.checklist.model import (
    Choice,
    Enter,
    Item,
    Readback,
    Reading,
    Response,
    Spoken,
    Text,
    Where,
    Words,
)
from runner.checklist.nodes import Mapping, Scalar
from runner.checklist.problems import one_of, shorten
from runner.checklist.quantities import read_quantity
from runner.checklist.text import ENGINE, check_pattern, overlap, parse_text, with_engine

ITEM_KEYS = (
    "challenge",
    "response",
    "not",
    "readback",
    "tolerance",
    "shown",
    "choose",
    "keep",
    "enter",
    "reading",
    "say",
    "same as",
    "id",
    "short",
    "who",
    "if",
    "critical",
    "both",
    "memory",
    "confirm",
    "ask again",
    "each engine",
    "note",
    "check",
)
SAME_AS_KEYS = ("same as", "id", "if", "who")
SAY_KEYS = ("say", "id", "if", "each engine", "note", "ask again")
RESPONSES = ("response", "readback", "choose", "enter", "reading")
DONE = parse_text("done")
"""The response of an item of a list that is done without being asked, where it names none."""

MAX_ID = 48
NO_ID = "?"
"""The id of what has none that is good, which is an error already."""


@dataclass(frozen=True, slots=True)
class ListHead:
    """What an item has to know of its list."""

    id: str
    kind: str
    engine: bool
    abnormal: bool
    responder: str


@dataclass(frozen=True, slots=True)
class SameAs:
    """The same item again: ``target`` is `list.item`."""

    id: str
    where: Where
    target: Scalar
    changes: tuple[tuple[str, object], ...]


Draft = Item | SameAs


def read_items(fields: Fields, head: ListHead, context: Context) -> list[list[Draft]]:
    """The items of a list; those for each engine stand together."""
    drafts: list[list[Draft]] = []
    seen: dict[str, Where] = {}
    for node in fields.mappings("items"):
        made = list(_read_item(node, head, context))
        for draft in made:
            name = draft.id.partition(".")[2]
            if name != NO_ID and (first := seen.get(draft.id)):
                context.problems.error(
                    draft.where,
                    f"two items of this list have the id '{name}' (first in line {first.line}); "
                    f"give this one its own, as id: {name}-2",
                )
            seen.setdefault(draft.id, draft.where)
        if made:
            drafts.append(made)
    return drafts


def _read_item(node: Mapping, head: ListHead, context: Context) -> Iterator[Draft]:
    problems = context.problems
    if node.get("same as") is not None:
        fields = Fields(node, "an item that is the same as another", SAME_AS_KEYS, problems)
        yield from _same_as(fields, head, context)
        return
    spoken = node.get("say") is not None
    keys, what = (SAY_KEYS, "a line that is only said") if spoken else (ITEM_KEYS, "an item")
    fields = Fields(node, what, keys, problems)
    each = "each engine" in fields and fields.yes("each engine", True)
    if each and head.engine:
        problems.error(
            fields.at("each engine"),
            "the list is about one engine already: remove this line or 'argument: engine'",
        )
    engine = each or head.engine
    challenge = context.figures(fields.scalar("say" if spoken else "challenge"), engine)
    if not spoken:
        fields.require("challenge")
    made_id = fields.id("id") if "id" in fields else slug(challenge) if challenge else None
    if challenge is None or made_id is None:
        if made_id is None and challenge is not None and fields.get("id") is None:
            problems.error(fields.where, "the item needs an id of its own, as id: flaps")
        made_id = made_id or NO_ID
    if not spoken:
        _check_flags(fields, head)
    short = context.figures(fields.scalar("short"), engine)
    note = context.figures(fields.scalar("note"), engine)
    who = context.role(fields.scalar("who")) or head.responder
    again = fields.yes("ask again", True)
    for number in range(1, context.aircraft.engines + 1) if each else (None,):
        before = len(problems.found)
        text = challenge or parse_text("?")
        condition = context.condition(for_engine(fields.scalar("if"), number, context))
        response: Response | None = Spoken()
        if not spoken:
            response = _response(fields, head, number, engine, context)
        item = Item(
            id=f"{head.id}.{made_id}" + (f"-{number}" if number else ""),
            where=fields.where,
            challenge=text,
            response=response or Words(DONE),
            short=short,
            who=who,
            condition=condition,
            critical=fields.yes("critical"),
            both=fields.yes("both"),
            memory=fields.yes("memory"),
            confirm="confirm" in fields,
            ask_again=again,
            engine=number,
            note=note,
            check=context.condition(for_engine(fields.scalar("check"), number, context)),
        )
        item = item if number is None else _filled(item, number)
        yield replace(item, used=_used(item, context))
        if len(problems.found) > before:
            return


def _same_as(fields: Fields, head: ListHead, context: Context) -> Iterator[Draft]:
    target = fields.scalar("same as")
    if target is None:
        return
    if not re.fullmatch(r"[^.\s]+\.[^.\s]+", target.text):
        context.problems.error(
            target.where,
            f"'same as' names a list and an item, as preflight.parking-brake, "
            f"not '{shorten(target.text)}'",
        )
        return
    made_id = fields.id("id") if "id" in fields else target.text.partition(".")[2]
    changes: list[tuple[str, object]] = []
    if "if" in fields:
        changes.append(("condition", context.condition(fields.scalar("if"))))
    if "who" in fields:
        changes.append(("who", context.role(fields.scalar("who"))))
    yield SameAs(f"{head.id}.{made_id}", fields.where, target, tuple(changes))


def _check_flags(fields: Fields, head: ListHead) -> None:
    """What an item of this list cannot be."""
    if head.kind == "briefing":
        fields.refuse("challenge", "is not answered in a briefing: use 'say'")
    if fields.yes("memory") and not head.abnormal:
        fields.refuse("memory", "is for items of abnormal lists")
    if fields.word("confirm", ("engine",)) and not head.engine:
        fields.refuse("confirm", "needs a list that is about one engine: add 'argument: engine'")
    if fields.yes("critical") and head.kind == "briefing":
        fields.refuse("critical", "is for items that are answered; a briefing is only spoken")
    if fields.yes("both") and head.kind == "briefing":
        fields.refuse("both", "is for items that are answered; a briefing is only spoken")


def for_engine(scalar: Scalar | None, number: int | None, context: Context) -> Scalar | None:
    """A formula with the engine's number filled in."""
    if scalar is None or "<" not in scalar.text:
        return scalar
    filled = re.sub(r"<\s*engine\s*>", lambda _: str(number), scalar.text)
    if filled == scalar.text:
        return scalar
    if number is None:
        context.problems.error(
            scalar.where,
            "a condition can name <engine> only in an item with 'each engine: yes', or a moment",
        )
        return None
    return Scalar(filled, scalar.where, -1)


def _response(
    fields: Fields, head: ListHead, number: int | None, engine: bool, context: Context
) -> Response | None:
    """The item's one response; what is wrong with it is noted."""
    problems = context.problems
    kinds = [key for key in RESPONSES if key in fields]
    if kinds == ["response", "reading"]:
        kinds = ["reading"]
    if len(kinds) > 1:
        problems.error(
            fields.at(kinds[1]),
            f"an item has one kind of response: keep '{kinds[0]}' or '{kinds[1]}'",
        )
        return None
    kind = kinds[0] if kinds else ""
    for key, owners in (
        ("not", ("response", "reading")),
        ("tolerance", ("readback",)),
        ("shown", ("readback",)),
        ("keep", ("choose",)),
    ):
        if kind and kind not in owners:
            fields.refuse(key, f"goes with '{owners[0]}', not with '{kind}'")
    if kind == "response":
        return _words(fields, engine, context)
    if kind == "readback":
        return _readback(fields, engine, context)
    if kind == "choose":
        return _choice(fields, engine, context)
    if kind == "enter":
        name = fields.scalar("enter")
        known = name is not None and context.known(name, "an input")
        return Enter(name.text) if name is not None and known else None
    if kind == "reading":
        condition = context.condition(for_engine(fields.scalar("reading"), number, context))
        words = _words(fields, engine, context) if "response" in fields else None
        if words is None:
            fields.refuse("not", "goes with 'response': add the words that answer the item")
        return None if condition is None else Reading(condition, words)
    if head.kind not in ("read and do", "flow", "") or any(
        key in fields for key in ("not", "tolerance", "shown", "keep")
    ):
        problems.error(
            fields.where, f"an item needs a response: one of the keys {one_of(RESPONSES)}"
        )
        return None
    return Words(DONE)


def _words(fields: Fields, engine: bool, context: Context) -> Words | None:
    wanted = fields.scalar("response")
    pattern = context.figures(wanted, engine)
    if wanted is None or pattern is None or not check_pattern(wanted, context.problems):
        return None
    wrong: list[Text] = []
    for text, scalar in fields.patterns("not"):
        context.figures(scalar, engine)
        wrong.append(text)
        if both := overlap(pattern, text):
            context.problems.error(
                scalar.where,
                f"'{both}' is a right answer too ('{shorten(pattern.source)}'): "
                "what must not be taken for the answer cannot be one",
            )
    return Words(pattern, tuple(wrong))


def _readback(fields: Fields, engine: bool, context: Context) -> Readback | None:
    name = fields.scalar("readback")
    shown = context.figures(fields.scalar("shown"), engine)
    if name is None or not context.known(name, "an input", "a figure"):
        return None
    if context.words(name.text):
        context.problems.error(
            name.where,
            f"'{name.text}' is a word, not a number to read back: "
            f"use 'response: <{name.text}>' or 'choose'",
        )
        return None
    tolerance = 0.0
    if line := fields.scalar("tolerance"):
        rule = context.aircraft.inputs.get(name.text) or context.aircraft.figures.get(name.text)
        unit = context.unit_of(rule)
        if unit is None:
            return None
        tolerance = read_quantity(line, unit, context.problems, difference=True) or 0.0
        if tolerance < 0:
            context.problems.error(line.where, "a tolerance is 0 or more")
    return Readback(name.text, tolerance, shown)


def _choice(fields: Fields, engine: bool, context: Context) -> Choice | None:
    problems = context.problems
    options: list[tuple[str, Text]] = []
    node = fields.mapping("choose")
    keep = fields.scalar("keep") if fields.require("keep") else None
    values = None if node is None else Fields(node, "", (k.text for k, _ in node.entries), problems)
    for key, _ in node.entries if node is not None else ():
        assert values is not None
        scalar = values.scalar(key.text)
        if scalar is None or not check_pattern(scalar, problems):
            continue
        context.figures(scalar, engine)
        pattern = parse_text(scalar.text)
        for other, earlier in options:
            if both := overlap(pattern, earlier):
                problems.error(
                    scalar.where, f"'{both}' stands for '{other}' already; choices must differ"
                )
        options.append((key.text, pattern))
    if keep is None or node is None or not context.known(keep, "an input"):
        return None
    given = context.aircraft.inputs.get(keep.text)
    if given is None or keep.text in context.unsure:
        return None
    if not given.choices:
        problems.error(
            keep.where, f"'{keep.text}' is a number, not a choice: use 'enter: {keep.text}'"
        )
        return None
    for key, _ in node.entries:
        if key.text not in given.choices:
            problems.error(
                key.where,
                f"'{shorten(key.text)}' is not a choice of '{keep.text}'; "
                f"its choices: {', '.join(given.choices)}",
            )
    if missing := [value for value in given.choices if node.get(value) is None]:
        problems.advise(
            fields.at("choose"),
            f"nothing is said for {one_of(missing)} of '{keep.text}': it cannot be chosen here",
        )
    return Choice(keep.text, tuple(options))


def _filled(item: Item, number: int) -> Item:
    """The item with its engine's number in every text."""
    response = item.response
    if isinstance(response, Words):
        response = _filled_words(response, number)
    elif isinstance(response, Readback) and response.shown is not None:
        response = replace(response, shown=with_engine(response.shown, number))
    elif isinstance(response, Choice):
        options = tuple((value, with_engine(text, number)) for value, text in response.options)
        response = replace(response, options=options)
    elif isinstance(response, Reading) and response.words is not None:
        response = replace(response, words=_filled_words(response.words, number))
    return replace(
        item,
        challenge=with_engine(item.challenge, number),
        response=response,
        short=item.short and with_engine(item.short, number),
        note=item.note and with_engine(item.note, number),
    )


def _filled_words(words: Words, number: int) -> Words:
    return Words(
        with_engine(words.pattern, number),
        tuple(with_engine(text, number) for text in words.confusable),
    )


def _used(item: Item, context: Context) -> frozenset[str]:
    """Figures that the item quotes or checks."""
    response = item.response
    names = set(item.challenge.figures)
    words = response.words if isinstance(response, Reading) else response
    if isinstance(words, Words):
        names |= words.pattern.figures
    if isinstance(response, Readback):
        names.add(response.figure)
        names |= response.shown.figures if response.shown else set()
    if isinstance(response, Reading):
        craft = context.aircraft
        names |= response.condition.names & {*craft.inputs, *craft.figures}
    return frozenset(names - {ENGINE})


def item_texts(item: Item) -> Iterator[Text]:
    """Every text of an item, patterns too."""
    response = item.response
    words = response.words if isinstance(response, Reading) else response
    yield item.challenge
    yield from (text for text in (item.short, item.note) if text is not None)
    if isinstance(words, Words):
        yield words.pattern
        yield from words.confusable
    if isinstance(response, Choice):
        yield from (text for _, text in response.options)
    if isinstance(response, Readback) and response.shown is not None:
        yield response.shown


def slug(text: Text) -> str | None:
    """An id made from a challenge: its words with `-` between them, cut at a word."""
    words = "".join(
        part if isinstance(part, str) else "" if part.name == ENGINE else f" {part.name} "
        for part in text.parts
    )
    ascii_words = unicodedata.normalize("NFKD", words.replace("'", "")).encode("ascii", "ignore")
    made = re.sub(r"[^a-z0-9]+", "-", ascii_words.decode().lower()).strip("-")
    if len(made) > MAX_ID:
        made = made[: MAX_ID + 1].rpartition("-")[0] or made[:MAX_ID]
    return made or None
