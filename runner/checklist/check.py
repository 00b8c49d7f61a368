"""``runner check``: everything that is wrong with files, and advice on what could mislead."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from itertools import combinations
from pathlib import Path
from typing import TYPE_CHECKING

from runner.checklist.crosscheck import call_patterns
from runner.checklist.files import find_file
from runner.checklist.load import (
    aircraft_of,
    kind_of,
    load_voice,
    read_aircraft_root,
    read_aircraft_text,
    read_procedures_root,
    read_text,
)
from runner.checklist.model import (
    Choice,
    Enter,
    Item,
    Procedures,
    Reading,
    Text,
    Where,
    Words,
)
from runner.checklist.nodes import Mapping, Scalar, compose
from runner.checklist.problems import FileErrors, Problems
from runner.checklist.text import overlap, parse_text, parsed, trial

if TYPE_CHECKING:
    from runner.checklist.aircraft import Places
    from runner.figures.model import Aircraft
    from runner.phrasing.style import VoiceStyle


MOST_TEXTS = 40
"""How many texts of an answer are looked at for their opposites, as in flight."""

FIRST_TEXTS = 6
"""How many texts of a pattern are compared by their sound."""


Opposites = Callable[[Iterable[str]], tuple[str, ...]]
"""The texts that say the opposite of those accepted, where an item names no wrong answer."""


ReadFeedMap = Callable[[str, str, "Aircraft"], int]
"""Reads a feed map's text, named by its file, for an aircraft: how many names it ties. Raises
``FileErrors``."""


def check_files(
    paths: Iterable[str | Path],
    opposites: Opposites | None = None,
    read_feed_map: ReadFeedMap | None = None,
) -> tuple[list[str], bool]:
    """Lines to print, errors before advice and a summary last, and whether all is usable.

    ``opposites`` gives what is listened for beside an answer that names nothing wrong,
    ``read_feed_map`` reads what another room knows: feed maps.
    """
    problems = Problems()
    counts: list[str] = []
    for path in paths:
        try:
            counts.append(_check(find_file(path), problems, opposites, read_feed_map))
        except FileErrors as failure:
            problems.found += failure.errors
            counts.append(f"{path}: cannot be read")
    errors, advice = problems.errors, problems.advice
    lines = [str(problem) for problem in (*errors, *advice)]
    what = "; ".join(counts) or "no file"
    advised = f"{_count(len(advice), 'piece')} of advice" if advice else "no advice"
    verdict = f"{_count(len(errors), 'error')}, {advised}"
    return [*lines, f"{what}: {verdict}"], not errors


def _count(number: int, what: str) -> str:
    return f"{number or 'no'} {what}{'' if number == 1 else 's'}"


def _check(
    path: Path,
    problems: Problems,
    opposites: Opposites | None,
    read_feed_map: ReadFeedMap | None,
) -> str:
    """Check one file; says what it is."""
    text, file = read_text(path), str(path)
    root = compose(text, file, problems)
    if root is None:
        return f"{file}: not readable"
    kind = kind_of(root)
    if kind == "procedures":
        aircraft = aircraft_of(root, path, problems)
        made = read_procedures_root(root, text, file, aircraft, problems)
        style = _style(root, file, problems)
        if made is None:
            return f"{file}: procedures"
        if not problems.errors:
            _procedures_advice(made, style, problems, opposites)
        items = sum(len(each.items) for each in made.lists.values())
        lists = len(made.lists)
        return f"{file}: procedures, {_count(lists, 'list')}, {_count(items, 'item')}"
    if kind == "aircraft":
        craft, places = read_aircraft_root(root, text, file, problems)
        if not problems.errors:
            _aircraft_advice(craft, places, problems)
        return f"{file}: aircraft, {_count(len(craft.figures), 'figure')}"
    if kind == "voice":
        from runner.checklist.voice import read_voice

        style = read_voice(root, problems)
        _voice_advice(style, root, problems)
        return f"{file}: voice"
    if kind == "feed" and read_feed_map is not None:
        return _feed_map(root, text, path, problems, read_feed_map)
    problems.error(
        root.where,
        "the file has none of the keys 'procedures', 'aircraft', 'voice' and 'feed'; "
        "one of them says what it is",
    )
    return f"{file}: not known"


def _feed_map(root: Mapping, text: str, path: Path, problems: Problems, read: ReadFeedMap) -> str:
    """Check a feed map against the aircraft that it names."""
    file = str(path)
    before = len(problems.errors)
    named = aircraft_of(root, path, problems)
    if named is None and len(problems.errors) == before:
        problems.error(
            root.where,
            "the map names no aircraft to be checked against; write 'aircraft:' with its file",
        )
    if named is None:
        return f"{file}: feed map"
    craft, _ = read_aircraft_text(*named, problems)
    if craft is None or len(problems.errors) > before:
        return f"{file}: feed map"
    return f"{file}: feed map, {_count(read(text, file, craft), 'name')}"


def _style(root: Mapping, file: str, problems: Problems) -> VoiceStyle | None:
    from runner.checklist.procedures import DEFAULT_VOICE

    node = root.get("voice")
    named = isinstance(node, Scalar) and bool(node.text.strip())
    name = node.text.strip() if isinstance(node, Scalar) and named else DEFAULT_VOICE
    try:
        return load_voice(name)
    except FileErrors as errors:
        for error in errors.errors:
            if error.where.line:
                problems.found.append(error)
            elif node is not None:
                problems.error(node.where, f"voice '{name}': {error.message}")
            else:
                problems.error(Where(file, 1, 1), f"voice '{name}': {error.message}")
        return None


def _procedures_advice(
    procedures: Procedures,
    style: VoiceStyle | None,
    problems: Problems,
    opposites: Opposites | None,
) -> None:
    controls = [(name, parse_text(line)) for name, line in (style.control if style else {}).items()]
    seen: set[Where] = set()
    for checklist in procedures.lists.values():
        for text in call_patterns(checklist):
            _against_controls(text, checklist.where, "a call for the list", controls, problems)
        for item in checklist.items:
            if item.where in seen:
                continue
            seen.add(item.where)
            answers = [text for _, text in _answers(item)]
            if answers and not _is_done(item):
                for text in answers:
                    _against_controls(text, item.where, "the answer", controls, problems)
            _sound_alike(item, procedures.aircraft, problems, opposites)


def _is_done(item: Item) -> bool:
    return isinstance(item.response, Words) and item.response.pattern.source == "done"


def _answers(item: Item) -> Iterator[tuple[str, Text]]:
    """The right answers of an item, each with what it stands for."""
    response = item.response
    words = response.words if isinstance(response, Reading) else response
    if isinstance(words, Words):
        yield "", words.pattern
    elif isinstance(words, Choice):
        yield from words.options


def _against_controls(
    text: Text,
    where: Where,
    what: str,
    controls: list[tuple[str, Text]],
    problems: Problems,
) -> None:
    for name, control in controls:
        if both := overlap(text, control):
            problems.advise(
                where,
                f"'{both}' is {what} and the control phrase '{name}' too; while it is awaited, "
                "the control phrase is heard in its long form only",
            )


def _sound_alike(
    item: Item, aircraft: Aircraft, problems: Problems, opposites: Opposites | None
) -> None:
    """Advice where a right answer sounds like one that is wrong, or two choices alike."""
    response = item.response
    words = response.words if isinstance(response, Reading) else response
    if isinstance(words, Words):
        pairs = [(words.pattern, wrong) for wrong in words.confusable or _implied(words, opposites)]
    elif isinstance(words, Enter):
        wanted = aircraft.inputs.get(words.input)
        choices = wanted.choices if wanted is not None else ()
        pairs = list(combinations([parse_text(value.replace("_", " ")) for value in choices], 2))
    else:
        pairs = list(combinations([text for _, text in _answers(item)], 2))
    for one, other in pairs:
        if alike := _alike(one, other):
            problems.advise(
                item.where,
                f"'{alike[0]}' and '{alike[1]}' sound alike; answers that differ in more "
                "than one sound are safer to hear",
            )


def _implied(words: Words, opposites: Opposites | None) -> tuple[Text, ...]:
    """The opposites that are listened for beside an answer whose file names nothing wrong."""
    if opposites is None:
        return ()
    texts = parsed(trial(words.pattern)).texts(MOST_TEXTS)
    return tuple(parse_text(opposite) for opposite in opposites(texts))


def _alike(one: Text, other: Text) -> tuple[str, str] | None:
    """The two texts of two patterns that sound most alike, where they do."""
    from runner.phrasing.similar import ALIKE, sounds_alike

    worst, found = ALIKE, None
    for a in parsed(trial(one)).texts(FIRST_TEXTS):
        for b in parsed(trial(other)).texts(FIRST_TEXTS):
            left, right = _differing(a.split(), b.split())
            if left and right and (alike := sounds_alike(left, right)) >= worst:
                worst, found = alike, (a, b)
    return found


def _differing(one: list[str], other: list[str]) -> tuple[str, str]:
    """What is left of two texts without the words that both begin and end with."""
    start = 0
    while start < min(len(one), len(other)) and one[start] == other[start]:
        start += 1
    one, other = one[start:], other[start:]
    while one and other and one[-1] == other[-1]:
        one, other = one[:-1], other[:-1]
    return " ".join(one), " ".join(other)


def _aircraft_advice(aircraft: Aircraft, places: Places, problems: Problems) -> None:
    """Advice on figures and schedules that cannot be worked out from the inputs' defaults."""
    from runner.checklist.schedules import schedule_advice
    from runner.figures.sheet import Sheet

    worked = Sheet(aircraft).work_out({})
    for name, problem in worked.problems.items():
        if name in aircraft.figures and not worked.missing:
            problems.advise(
                places.names[name],
                f"'{name}' cannot be worked out from the inputs' defaults: {problem}",
            )
    if aircraft.schedules and not worked.missing:
        schedule_advice(aircraft, worked, places, problems)


def _voice_advice(style: VoiceStyle, root: Mapping, problems: Problems) -> None:
    """Advice on control phrases that a voice leaves out."""
    from runner.phrasing.speech import CONTROLS

    missing = [name for name in CONTROLS if name not in style.control]
    if missing:
        node = root.get("control")
        problems.advise(
            node.where if node is not None else root.where,
            f"there is no control phrase for {', '.join(missing)}: it can be had by key only",
        )
