"""The terminal's summary of a debrief: what matters first, in lines of at most 80 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence

from runner.debrief.comparison import Comparison, trend_words
from runner.debrief.kept import Book
from runner.debrief.looked import Debrief
from runner.debrief.past import RunTold
from runner.debrief.record import Record, Try
from runner.debrief.told import WARNING, clock, count, day, seconds

WIDTH = 80
MOST = 6
"""So many lines of one kind; the page has all of them."""

RECENT = 10


def summary(told: Debrief) -> list[str]:
    """A debrief as lines."""
    record = told.record
    lines = [WARNING, ""]
    lines += wrapped(
        f"Run {told.row.id}, {day(told.row.started)}: {record.procedures}. "
        f"{clock(record.length)}, {ending(record)}.",
    )
    lines += wrapped(in_short(told) + ".", "  ")
    lines += _open(told)
    lines += _failed(told)
    lines += _slow(told)
    lines += _interrupted(record)
    lines += _advice(told)
    return lines


def ending(record: Record) -> str:
    """How a run ended."""
    if not record.finished:
        return "not finished"
    return "complete" if record.complete else "ended with items open"


def in_short(told: Debrief) -> str:
    """The counts of a run in one sentence, with the past's time to answer where there is one."""
    record = told.record
    parts = [
        f"{record.done} of {count(len(record.items), 'item')} done",
        f"{len(record.left_open)} left open",
        f"{record.failed('wrong', 'contradicted', 'disagreed')} wrong",
        f"{record.failed('not clear')} not understood",
        count(record.failed("silent"), "silence"),
        count(record.count("interruption"), "interruption"),
        count(record.count("callout"), "callout"),
    ]
    text = ", ".join(parts)
    if record.median_ms is not None:
        text += f"; time to answer {seconds(record.median_ms)} (median)"
        before = told.past.median_ms
        if before is not None:
            flights = count(len(told.past.runs), "flight")
            text += f", in {flights} before it {seconds(before)}"
    return text


def instead(item: str, one: Try) -> str:
    """One failed try in words."""
    match one.how:
        case "silent":
            return f"{item}: no answer"
        case "not clear":
            return f"{item}: heard “{one.heard}”, not understood"
        case "disagreed":
            return f"{item}: {one.heard}, taken back by “I disagree”"
        case "contradicted":
            return f"{item}: said {one.heard}, the readings said otherwise"
        case _:
            return f"{item}: heard {one.heard}, expected {one.expected}"


def trend_lines(runs: Sequence[RunTold]) -> list[str]:
    """A trend as a table, newest last, and what its numbers bear."""
    lines = ["", f"Trend over {count(len(runs), 'flight')}"]
    lines.append("     run  began              length  done  open  failed  answer")
    for one in runs[-RECENT:]:
        lines.append(
            f"  {one.run:>6}  {day(one.started):<16} {clock(one.length):>8}  {one.done:>4}  "
            f"{one.left_open:>4}  {one.failed:>6}  {seconds(one.answered):>6}"
        )
    return [*lines, *wrapped(trend_words(runs), "  ")]


def notes(book: Book) -> list[str]:
    """What could not be looked back on, one line each."""
    lines = []
    if book.left:
        lines += wrapped(
            f"{count(book.left, 'earlier flight')} still to be looked back on: the next "
            "debrief goes on with them."
        )
    unread = sorted(book.unread.items())
    if unread:
        more = f" and {len(unread) - 1} more" if len(unread) > 1 else ""
        lines += wrapped(f"Left out{more}: {unread[0][1]}")
    return ["", *lines] if lines else []


def wrapped(text: str, indent: str = "", more: str = "  ") -> list[str]:
    """Text in lines of at most ``WIDTH`` columns; those after the first stand further in."""
    return textwrap.wrap(
        text, WIDTH, initial_indent=indent, subsequent_indent=indent + more, break_on_hyphens=False
    )


def _section(title: str, lines: Iterable[str], page: bool = True) -> list[str]:
    every = list(lines)
    if not every:
        return []
    shown = [part for line in every[:MOST] for part in wrapped(line, "  ")]
    if len(every) > MOST:
        where = " (all of them: --html FILE)" if page else ""
        shown.append(f"  and {len(every) - MOST} more{where}")
    return ["", title, *shown]


def _open(told: Debrief) -> list[str]:
    critical = told.critical_open
    ranked = sorted(told.record.left_open, key=lambda name: name not in critical)
    return _section(
        f"Left open ({len(ranked)})",
        (f"{name}, critical" if name in critical else name for name in ranked),
    )


def _failed(told: Debrief) -> list[str]:
    rank = {"wrong": 0, "contradicted": 0, "disagreed": 1, "silent": 2, "not clear": 3}
    pairs = sorted(told.failed(), key=lambda pair: rank[pair[1].how])
    return _section(
        f"Asked again ({len(pairs)})",
        (f"{clock(one.at):>5}  {instead(item.challenge, one)}" for item, one in pairs),
    )


def _slow(told: Debrief) -> list[str]:
    return _section(
        "Longer than ever before",
        (
            f"{one.item.challenge}: {seconds(one.item.answer_ms)}; usually "
            f"{seconds(one.median_ms)}, at most {seconds(one.longest_ms)} "
            f"({one.answers} answers before)"
            for one in told.slow
        ),
    )


def _interrupted(record: Record) -> list[str]:
    kinds = ("interruption", "limit", "feed", "stopped")
    return _section(
        "Interruptions and warnings",
        (f"{clock(one.at):>5}  {one.text}" for one in record.happenings if one.kind in kinds),
    )


def _advice(told: Debrief) -> list[str]:
    if not told.advice:
        return _section(
            "Advice",
            ["None: nothing in the record so far bears any (it takes five flights of an item)."],
        )
    lines = ["", "Advice"]
    for one in told.advice:
        lines += wrapped(one.text, "  ")
        lines += wrapped(one.ground, "    ", "")
        if one.command:
            lines += wrapped(one.command, "    ", "    ")
    return lines


def comparison_lines(this: int, other: int, told: Comparison) -> list[str]:
    """Two runs side by side as lines; ``other`` is the one compared with."""
    lines = ["", f"Run {this} against run {other}"]
    lines.append(f"  {'':<26}{f'run {other}':>14}{f'run {this}':>14}")
    lines += [f"  {name:<26}{first:>14}{second:>14}" for name, first, second in told.counts]
    lines += wrapped(told.verdict, "  ")
    for pair in told.changes[:MOST]:
        assert pair.first is not None and pair.second is not None
        lines += wrapped(
            f"{pair.challenge}: {seconds(pair.first.answer_ms)}, now "
            f"{seconds(pair.second.answer_ms)}",
            "  ",
        )
    return lines
