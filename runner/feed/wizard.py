"""Ties a source's names to an aircraft's readings by asking the pilot, and writes the map."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from runner.feed.likeness import suggestions, unit_of, words_of
from runner.feed.seen import Name, Seen, shown, shown_value
from runner.figures.units import UnitError, convert, spelling

if TYPE_CHECKING:
    from runner.figures.model import Aircraft, ReadingRule

ENGINE = "<engine>"
MOVED_SECONDS = 5.0
HELP = (
    "Enter takes the first. Or: a number, a name, 'all' to see every name, 'none' if it is not "
    "sent, 'done' to leave the rest out."
)
MOVED_HELP = "'moved' listens while you move it in the simulator."

Ask = Callable[[str], str]
Tell = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Tie:
    """A line of the map: source name, reading, unit ('' for the aircraft's own)."""

    source: str
    reading: str
    unit: str = ""


class Wizard:
    """Asks with ``ask`` (a prompt in, a line out) and tells with ``tell``.

    ``listen`` listens again for so many seconds; without it nothing can be asked to be moved.
    ``aircraft_file`` is written into the map as that of its aircraft.
    """

    def __init__(
        self,
        seen: Seen,
        aircraft: Aircraft,
        ask: Ask,
        tell: Tell,
        listen: Callable[[float], Seen] | None = None,
        aircraft_file: str = "",
    ) -> None:
        self._seen = seen
        self._aircraft = aircraft
        self._ask = ask
        self._tell = tell
        self._listen = listen
        self._aircraft_file = aircraft_file
        self._ties: list[Tie] = []
        self._used: set[str] = set()
        self._first: int | None = None
        """The number that the source gives engine 1, once one name with it has been tied."""

        self._done = False

    def run(self) -> str:
        """The text of the map, once everything has been asked. It ties one name at least."""
        self._tell(f"{len(self._seen.names)} names arrive. {HELP}")
        for rule in self._aircraft.readings.values():
            if self._done:
                break
            if rule.each_engine:
                self._each_engine(rule)
            else:
                self._one(rule, rule.name, rule.title)
        time = self._stamp("the simulator's own clock", ("time", "clock", "seconds", "sim"))
        unit = ""
        if time:
            unit = self._ask("In which unit is it: s, ms, min or h? [s] ").strip()
            unit = unit if unit in ("ms", "min", "h") else ""
        paused = self._stamp("whether it is paused", ("pause", "paused"))
        sequence = self._stamp("the number of the record", ("seq", "sequence", "frame", "count"))
        title = self._ask("What is this source called? [my simulator] ").strip()
        stamps = {"time": (time, unit), "paused": (paused, ""), "sequence": (sequence, "")}
        return map_text(
            title or "my simulator", self._aircraft_file, self._ties, stamps, self._first
        )

    @property
    def tied(self) -> int:
        """How many lines the map has."""
        return len(self._ties)

    def _free(self) -> list[Name]:
        return [
            name
            for name in self._seen.names.values()
            if name.name not in self._used and _can_be_written(name.name)
        ]

    def _one(self, rule: ReadingRule, reading: str, title: str) -> None:
        name = self._choose(rule, title)
        if name is not None:
            self._tie(name.name, reading, self._unit(name, rule))

    def _each_engine(self, rule: ReadingRule) -> None:
        name = self._choose(rule, f"{rule.title}, engine 1")
        if name is None:
            return
        unit = self._unit(name, rule)
        for pattern, first in self._patterns(name.name):
            self._tell(f"    {shown(pattern, 60)} gives all {self._aircraft.engines} engines.")
            if self._ask("Is that so? [yes] ").strip().lower() in ("", "y", "yes"):
                self._first = first
                self._ties.append(Tie(pattern, rule.name, unit))
                for engine in range(self._aircraft.engines):
                    self._used.add(pattern.replace(ENGINE, str(engine + first)))
                return
        self._tie(name.name, f"{rule.name}_1", unit)
        for engine in range(2, self._aircraft.engines + 1):
            if self._done:
                return
            other = self._choose(rule, f"{rule.title}, engine {engine}")
            if other is not None:
                self._tie(other.name, f"{rule.name}_{engine}", unit)

    def _patterns(self, name: str) -> list[tuple[str, int]]:
        """The name with ``<engine>`` for a number, where that gives a name for every engine."""
        found: list[tuple[str, int]] = []
        for place in re.finditer(r"(?<!\d)[01](?!\d)", name):
            first = int(place[0])
            pattern = name[: place.start()] + ENGINE + name[place.end() :]
            each = [pattern.replace(ENGINE, str(n + first)) for n in range(self._aircraft.engines)]
            if self._first in (None, first) and all(one in self._seen.names for one in each):
                found.append((pattern, first))
        return found if self._aircraft.engines > 1 and ENGINE not in name else []

    def _choose(self, rule: ReadingRule, title: str) -> Name | None:
        """The name that is a reading; None where it is not sent."""
        offered = suggestions(rule, self._free())
        self._tell(f"{title}{f', in {rule.unit}' if rule.unit else ''}")
        self._offer(offered)
        while True:
            default = "1" if offered else "none"
            said = self._ask(f"Which is it? [{default}] ").strip()
            word = said.lower() or default
            free = {name.name: name for name in self._free()}
            if said in free:
                return free[said]
            if word == "none":
                return None
            if word == "done":
                self._done = True
                return None
            if word == "all":
                offered = self._free()
                self._offer(offered)
            elif word == "moved" and self._listen is not None:
                self._tell(f"Move it now, for {MOVED_SECONDS:g} seconds.")
                offered = moved(self._listen(MOVED_SECONDS), self._free())
                self._offer(offered)
            elif word.isascii() and word.isdecimal() and 1 <= int(word[:6]) <= len(offered):
                return offered[int(word) - 1]
            elif said in self._used:
                self._tell(f"{shown(said)} is tied already.")
            else:
                self._tell(f"{HELP} {MOVED_HELP if self._listen else ''}".rstrip())

    def _offer(self, names: Iterable[Name]) -> None:
        for number, name in enumerate(names, 1):
            span = ""
            if name.low is not None and name.high is not None and name.low != name.high:
                span = f", {name.low:.6g} to {name.high:.6g}"
            self._tell(f"  {number:2} {shown(name.name)}: {shown_value(name.last)}{span}")

    def _unit(self, name: Name, rule: ReadingRule) -> str:
        """The unit of a name as the map writes it, '' for the aircraft's own."""
        if name.number is None:
            return ""
        likely = unit_of(name, rule)
        own = rule.unit or "a plain number"
        while True:
            said = self._ask(f"In which unit? [{likely or own}] ").strip() or likely
            unit = "" if said == "a plain number" else said
            try:
                value = convert(name.number, unit, rule.unit)
                unit = spelling(unit)
            except UnitError as error:
                self._tell(str(error))
                continue
            self._tell(f"    {value:.6g} {rule.unit}".rstrip())
            return "" if unit == rule.unit else unit

    def _tie(self, source: str, reading: str, unit: str) -> None:
        self._ties.append(Tie(source, reading, unit))
        self._used.add(source)

    def _stamp(self, what: str, likely: tuple[str, ...]) -> str:
        """The name of a record's stamp, '' for none."""
        found = [
            name.name
            for name in self._free()
            if any(word.startswith(likely) for word in words_of(name.name))
        ]
        default = found[0] if found else "none"
        while True:
            said = self._ask(f"Which name is {what}? [{shown(default)}] ").strip() or default
            if said == "none":
                return ""
            if any(name.name == said for name in self._free()):
                self._used.add(said)
                return said
            self._tell(f"No such name arrives, or it is tied: {shown(said)}. 'none' for none.")


def moved(seen: Seen, free: Iterable[Name], limit: int = 8) -> list[Name]:
    """The names that changed most while something was moved, against what they are."""
    allowed = {name.name for name in free}

    def change(name: Name) -> float:
        if name.low is None or name.high is None:
            return 0.0
        return (name.high - name.low) / max(abs(name.low), abs(name.high), 1e-9)

    changed = [name for name in seen.names.values() if name.name in allowed and change(name) > 0]
    return sorted(changed, key=change, reverse=True)[:limit]


def map_text(
    title: str,
    aircraft: str,
    ties: Iterable[Tie],
    stamps: dict[str, tuple[str, str]],
    first: int | None,
) -> str:
    """The map as a file. ``aircraft`` is the aircraft's file; ``stamps`` are key, source name
    and unit. '' is left out."""
    lines = ["runner: 1", f"feed: {_quoted(title)}"]
    if aircraft:
        lines.append(f"aircraft: {_quoted(aircraft)}")
    for key, (name, unit) in stamps.items():
        if name:
            lines.append(f"{key}: {_quoted(f'{name} in {unit}' if unit else name)}")
    if first == 0:
        lines.append("engines from: 0")
    lines.append("names:")
    for tie in ties:
        unit = f" in {tie.unit}" if tie.unit else ""
        lines.append(f"  {_quoted(tie.source)}: {tie.reading}{unit}")
    return "\n".join(lines) + "\n"


def _can_be_written(name: str) -> bool:
    return bool(name.strip()) and name.isprintable() and ENGINE not in name


def _quoted(text: str) -> str:
    """A text as a scalar of YAML: as it stands where nothing in it could mean anything else."""
    if re.fullmatch(r"[A-Za-z](?:[\w ./<>()-]*[\w>)])?", text, re.A):
        return text
    return json.dumps(text, ensure_ascii=False)
