"""Syntax errors in the writer's own terms: where a line does not read, and how to write it."""

from __future__ import annotations

import re
from typing import Any

from runner.checklist.model import Where
from runner.checklist.problems import shorten

_LINE = re.compile(r"^(?P<lead>[ \t]*(?:-[ \t]+)*)(?:(?P<key>[^\s:#'\"\[{][^:#]*?):[ \t]+)?")
_WHOLE = re.compile(
    r"""("([^"\\]|\\.)*"|'([^']|'')*'|[|>][-+0-9]*|\[.*\]|\{.*\})(\s+\#.*)?""", re.VERBOSE
)
_VALUE_START = re.compile(r"[-?:](?:\s|$)|[\[\]{},&*!|>%@`'\"]")


def syntax_problem(error: Any, lines: list[str], file: str) -> tuple[Where, str]:
    """The place of a parser's error and one line that says what would be right.

    ``error`` is a ``yaml.MarkedYAMLError``.
    """
    marks = [m for m in (error.problem_mark, error.context_mark) if m is not None]
    mark = marks[0]
    row = min(mark.line, len(lines) - 1)
    for m in marks:
        line = min(m.line, len(lines) - 1)
        if hint := _value_hint(lines[line], line + 1, file):
            return hint
    if "\t" in lines[row][: mark.column + 1]:
        tab = lines[row].index("\t")
        return Where(file, row + 1, tab + 1), "a tab cannot stand here; use spaces to indent"
    where = Where(file, row + 1, mark.column + 1)
    problem = str(error.problem)
    if "':'" in problem:
        start = marks[-1]
        wrong = shorten(lines[min(start.line, len(lines) - 1)])
        return (
            Where(file, start.line + 1, start.column + 1),
            f"'{wrong}' is not 'key: value'; put a colon and a space after the key",
        )
    if "escape" in problem:
        return where, "a backslash cannot stand in double quotes; use single quotes"
    return (
        where,
        "this line does not fit with the lines above: keys of one thing stand in the same "
        "column, and what belongs to a key stands further in",
    )


def _value_hint(line: str, number: int, file: str) -> tuple[Where, str] | None:
    """Where the line's value needs quotes: why, and the line as it should be."""
    parts = _LINE.match(line)
    assert parts is not None
    key, value = parts["key"], line[parts.end() :]
    start = parts.end()
    if key is None and re.search(r":(\s|$)", value):
        return None
    shown = f"{key}: " if key else "- "
    if (bad := _VALUE_START.match(value)) and not _whole(value):
        text = value.strip().strip("\"'")
        why = f"a value that starts with {bad[0].strip()} is not read as text"
    elif key and (colon := re.search(r":(\s|$)", value)):
        start += colon.start()
        text = value.strip()
        why = "a colon followed by a space starts a new key"
    else:
        return None
    text = shorten(text, 60)
    quoted = text.replace("'", "''") if '"' in text else text
    mark = "'" if '"' in text else '"'
    return Where(
        file, number, start + 1
    ), f"{why}; put it in quotes, as {shown}{mark}{quoted}{mark}"


def _whole(value: str) -> bool:
    """Whether a value that starts with a mark of YAML reads well by itself."""
    text = value.strip()
    if text[0] in "'\"":
        return re.fullmatch(r"""("([^"\\]|\\.)*"|'([^']|'')*')(\s+#.*)?""", text) is not None
    return (
        text[0] in "|>[{" and re.fullmatch(r"[|>][-+0-9]*(\s+#.*)?|\[.*\]|\{.*\}", text) is not None
    )
