"""A voice file as frozen data: number style, control phrases, Runner's own phrases, synonyms."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, cast, get_args

from runner.checklist.fields import Fields
from runner.checklist.nodes import Mapping, Node, Scalar
from runner.checklist.problems import Problems, did_you_mean, one_of, shorten
from runner.checklist.text import check_pattern, overlap, parse_text, places
from runner.phrasing.style import NumberStyle, VoiceStyle

if TYPE_CHECKING:
    from runner.checklist.model import Text

VOICE_KEYS = (
    "runner",
    "voice",
    "language",
    "numbers",
    "rate",
    "synthesiser voice",
    "long form",
    "control",
    "phrases",
    "synonyms",
    "pronunciations",
)
NUMBER_STYLES: tuple[str, ...] = get_args(NumberStyle)
SLOWEST, FASTEST = 60, 450


def read_voice(root: Mapping, problems: Problems) -> VoiceStyle:
    """What could be read of a voice file; what is wrong is noted."""
    fields = Fields(root, "a voice file", VOICE_KEYS, problems, "voice")
    fields.version()
    plain = VoiceStyle("")
    numbers = fields.word("numbers", NUMBER_STYLES, plain.numbers)
    return VoiceStyle(
        name=fields.line("voice"),
        language=fields.line("language", plain.language),
        numbers=cast("NumberStyle", numbers),
        rate=fields.whole("rate", SLOWEST, FASTEST, plain.rate),
        synthesiser_voice=fields.line("synthesiser voice"),
        long_form=fields.line("long form", plain.long_form),
        control=dict(_control(fields, problems)),
        phrases=dict(_phrases(fields, problems)),
        synonyms=dict(_synonyms(fields, problems)),
        pronunciations=dict(_pronunciations(fields, problems)),
    )


def _entries(fields: Fields, key: str) -> tuple[tuple[Scalar, Node], ...]:
    node = fields.mapping(key)
    return node.entries if node is not None else ()


def _line(key: Scalar, value: Node, problems: Problems) -> Scalar | None:
    if isinstance(value, Scalar) and value.text.strip():
        return value
    problems.error(value.where, f"'{shorten(key.text)}' is one line of text")
    return None


def _known(key: Scalar, what: str, names: tuple[str, ...], problems: Problems) -> bool:
    if key.text in names:
        return True
    problems.error(
        key.where,
        f"'{shorten(key.text)}' is not {what}"
        + (did_you_mean(key.text, names) or f"; it is {one_of(names, 40)}"),
    )
    return False


def _control(fields: Fields, problems: Problems) -> Iterator[tuple[str, str]]:
    from runner.phrasing.speech import CONTROLS

    earlier: list[tuple[str, Text]] = []
    for key, value in _entries(fields, "control"):
        line = _line(key, value, problems)
        if not _known(key, "a control phrase", tuple(CONTROLS), problems) or line is None:
            continue
        for name, offset in places(line):
            problems.error(line.at(offset - 1), f"<{name}>: a control phrase has no figures in it")
            break
        else:
            if not check_pattern(line, problems):
                continue
            text = parse_text(line.text)
            for name, other in earlier:
                if both := overlap(text, other):
                    problems.error(line.where, f"'{both}' stands for '{name}' already")
            earlier.append((key.text, text))
            yield key.text, line.text


def _phrases(fields: Fields, problems: Problems) -> Iterator[tuple[str, str]]:
    from runner.phrasing.speech import PHRASES, phrase_places

    for key, value in _entries(fields, "phrases"):
        line = _line(key, value, problems)
        if not _known(key, "a phrase of Runner's", tuple(PHRASES), problems) or line is None:
            continue
        known = sorted(phrase_places(PHRASES[key.text]))
        for name, offset in places(line):
            if name not in known:
                has = (
                    f"its places: {', '.join(f'<{n}>' for n in known)}" if known else "it has none"
                )
                problems.error(line.at(offset), f"<{name}> is not a place of '{key.text}'; {has}")
        yield key.text, line.text.strip()


def _synonyms(fields: Fields, problems: Problems) -> Iterator[tuple[str, tuple[str, ...]]]:
    node = fields.mapping("synonyms")
    if node is None:
        return
    words = Fields(node, "synonyms", (key.text for key, _ in node.entries), problems)
    for key, _ in node.entries:
        ways = words.texts(key.text)
        good = tuple(way.text for way in ways if check_pattern(way, problems))
        if good:
            yield key.text, good


def _pronunciations(fields: Fields, problems: Problems) -> Iterator[tuple[str, str]]:
    for key, value in _entries(fields, "pronunciations"):
        if (line := _line(key, value, problems)) is not None:
            yield key.text, line.text.strip()
