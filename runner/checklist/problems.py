"""What is wrong in a file: one line each, with its place and what would be right."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from runner.checklist.model import Where
from runner.errors import RunnerError

CLOSE_ENOUGH = 0.6


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong (or, as ``advice``, doubtful). Line 0 stands for the file as a whole."""

    where: Where
    message: str
    advice: bool = False

    def __str__(self) -> str:
        place = str(self.where) if self.where.line else self.where.file
        return f"{place}: {'advice: ' if self.advice else ''}{self.message}"


class FileErrors(RunnerError):
    """Everything that is wrong in a file, a line each. ``errors`` holds them in file order."""

    def __init__(self, errors: Iterable[Problem]) -> None:
        self.errors = tuple(errors)
        super().__init__("\n".join(str(error) for error in self.errors))


@dataclass(slots=True)
class Problems:
    """Collects what is wrong while a file is read, so that all of it is told in one go."""

    found: list[Problem] = field(default_factory=list)

    def error(self, where: Where, message: str) -> None:
        """Note an error: the file cannot be used."""
        self.found.append(Problem(where, message))

    def advise(self, where: Where, message: str) -> None:
        """Note a doubt: the file can be used."""
        self.found.append(Problem(where, message, advice=True))

    @property
    def errors(self) -> tuple[Problem, ...]:
        """The errors by file, in the order in which files were first met, and by place."""
        return _in_order(p for p in self.found if not p.advice)

    @property
    def advice(self) -> tuple[Problem, ...]:
        """The advice, in the same order."""
        return _in_order(p for p in self.found if p.advice)

    def stop_on_errors(self) -> None:
        """Raise ``FileErrors`` where there is an error."""
        if errors := self.errors:
            raise FileErrors(errors)


def _in_order(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    found = tuple(dict.fromkeys(problems))
    files = {file: n for n, file in enumerate(dict.fromkeys(p.where.file for p in found))}
    return tuple(sorted(found, key=lambda p: (files[p.where.file], p.where.line, p.where.column)))


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """`; did you mean 'flaps'?` for the known word nearest to ``word``, or nothing."""
    from difflib import get_close_matches

    choices = {choice.lower(): choice for choice in known}
    near = get_close_matches(word.lower(), choices, n=1, cutoff=CLOSE_ENOUGH)
    return f"; did you mean '{choices[near[0]]}'?" if near else ""


def one_of(words: Iterable[str], limit: int = 12) -> str:
    """`a, b or c`, cut after ``limit`` words."""
    listed = list(words)
    if len(listed) > limit:
        return ", ".join(listed[:limit]) + " ..."
    if len(listed) < 2:
        return "".join(listed)
    return f"{', '.join(listed[:-1])} or {listed[-1]}"


def shorten(text: str, limit: int = 40) -> str:
    """The text on one line, cut to ``limit`` characters, as it is quoted in a message."""
    line = " ".join(text.split())
    return line if len(line) <= limit else line[: limit - 3].rstrip() + "..."
