"""``runner debrief``: what happened in a run, as lines of text, a page or JSON."""

from __future__ import annotations

import argparse
import dataclasses
import json
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from runner.errors import RunnerError

if TYPE_CHECKING:
    from runner.debrief.comparison import Comparison
    from runner.debrief.kept import Book
    from runner.debrief.looked import Debrief
    from runner.debrief.past import RunTold
    from runner.logbook.store import RunRow


def add_debrief(sub: argparse.ArgumentParser) -> None:
    """The arguments of ``runner debrief``."""
    sub.add_argument(
        "run",
        nargs="?",
        type=int,
        metavar="RUN",
        help="a run's number (runner logbook list); without it the newest one",
    )
    sub.add_argument(
        "--html", default="", metavar="FILE", help="write a page with pictures, all in one file"
    )
    sub.add_argument(
        "--json", default="", metavar="FILE", help="write all of it as JSON (-: standard output)"
    )
    sub.add_argument(
        "--compare", type=int, metavar="RUN", help="hold the run against this other one"
    )
    sub.add_argument(
        "--trends", action="store_true", help="how the flights of these procedures changed"
    )
    sub.add_argument(
        "--readings",
        default="",
        metavar="FILE",
        help="readings that runner fly --record-feed wrote during the run, to hold them "
        "against their targets",
    )
    sub.add_argument("--logbook", default="", metavar="FILE", help="where the runs are stored")
    sub.set_defaults(command=debrief)


def debrief(arguments: argparse.Namespace) -> int:
    """Look back on a run; the exit status of the program."""
    from runner.debrief.kept import Book
    from runner.logbook.store import default_path

    if arguments.html == "-":
        raise RunnerError("--html -: the page goes into a file; name one")
    book = Book(Path(arguments.logbook) if arguments.logbook else default_path())
    try:
        return _debrief(arguments, book)
    finally:
        book.close()


def _debrief(arguments: argparse.Namespace, book: Book) -> int:
    from runner.debrief.looked import debrief
    from runner.debrief.summary import comparison_lines, notes, summary, trend_lines

    now = datetime.now(UTC)
    readings = Path(arguments.readings) if arguments.readings else None
    told = debrief(book, arguments.run, now, readings)
    comparison = _comparison(arguments, book, told)
    trend: tuple[RunTold, ...] = ()
    if arguments.trends or arguments.html:
        trend = _trend(book, told.row, patient=arguments.trends)
    if arguments.json != "-":
        lines = summary(told)
        if comparison is not None:
            lines += comparison_lines(told.row.id, arguments.compare, comparison)
        if arguments.trends:
            lines += trend_lines(trend)
        print("\n".join([*lines, *notes(book)]))
    if arguments.json:
        _write(arguments.json, "--json", _json(told, comparison, trend))
    if arguments.html:
        from runner.debrief.page import page

        _write(
            arguments.html,
            "--html",
            page(book, told, arguments.compare, comparison, trend, now),
        )
        if arguments.json != "-":
            print(f"\nThe page: {arguments.html}")
    return 0


def _comparison(arguments: argparse.Namespace, book: Book, told: Debrief) -> Comparison | None:
    if arguments.compare is None:
        return None
    from runner.debrief.comparison import compare

    other = book.row(arguments.compare)
    if other.id == told.row.id:
        raise RunnerError(f"--compare {other.id}: that is the run itself; name another one")
    if other.procedures != told.row.procedures:
        raise RunnerError(
            f"--compare {other.id}: that run is of {other.procedures}, this one of "
            f"{told.row.procedures}; only runs of the same procedures can be compared"
        )
    return compare(book.record(other.id), told.record)


def _trend(book: Book, row: RunRow, patient: bool) -> tuple[RunTold, ...]:
    from runner.debrief.kept import LONG_PATIENCE
    from runner.debrief.past import TREND, trend

    rows = [row, *book.earlier(row, TREND - 1)]
    if patient:
        book.catch_up([one.id for one in rows], LONG_PATIENCE)
    return trend(book, rows)


def _json(told: Debrief, comparison: Comparison | None, trend: tuple[RunTold, ...]) -> str:
    from runner.debrief.told import WARNING

    plain = {
        "warning": WARNING,
        "run": dataclasses.asdict(told.row),
        "record": dataclasses.asdict(told.record),
        "advice": [dataclasses.asdict(one) for one in told.advice],
        "flights_before": list(told.past.runs),
    }
    if comparison is not None:
        plain["comparison"] = {"counts": comparison.counts, "verdict": comparison.verdict}
    if trend:
        plain["trend"] = [dataclasses.asdict(one) for one in trend]
    return json.dumps(plain, ensure_ascii=False, indent=2) + "\n"


def _write(file: str, option: str, text: str) -> None:
    if file == "-":
        sys.stdout.write(text)
        return
    try:
        Path(file).write_text(text, encoding="utf-8")
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise RunnerError(f"{option} {file}: cannot be written: {reason}") from None
