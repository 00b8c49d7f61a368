"""``runner logbook``: what was flown and drilled, taken elsewhere, looked after and deleted."""

from __future__ import annotations

import argparse
import contextlib
import os
import sqlite3
import sys
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path
from typing import IO

from runner.errors import WRONG_INPUT, RunnerError

USUAL_LAST = 20
"""How many runs, and how many drills, are listed where nothing else is said."""


def add_logbook(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """The commands of ``runner logbook``."""
    sub = _add(
        commands,
        "list",
        "list the runs and drills, newest first, with their numbers",
        list_,
        "runner logbook list",
        "runner logbook list --last 100",
    )
    sub.add_argument(
        "--last", type=int, default=USUAL_LAST, metavar="N", help=f"how many ({USUAL_LAST}); 0: all"
    )
    sub = _add(
        commands,
        "export",
        "write everything, or one run with its files, as JSON lines",
        export,
        "runner logbook export everything.jsonl",
        "runner logbook export --run 12 that-flight.jsonl",
        "runner logbook export - | gzip > everything.jsonl.gz",
    )
    sub.add_argument("file", metavar="FILE", help="a new file, or - for standard output")
    sub.add_argument("--run", type=int, metavar="N", help="that run alone")
    sub.add_argument("--force", action="store_true", help="write over a file that exists")
    sub = _add(
        commands,
        "import",
        "take in JSON lines that were exported; what is here already stays as it is. A line that "
        "was altered or is none of ours is named, the run or drill that it belongs to is left "
        "out, and the rest is kept",
        import_,
        "runner logbook import everything.jsonl",
    )
    sub.add_argument("file", metavar="FILE", help="a file, or - for standard input")
    _add(
        commands,
        "check",
        "check that the file is sound and that every run can be replayed; changes nothing",
        check,
        "runner logbook check",
    )
    sub = _add(
        commands,
        "forget",
        "delete a run, a drill, or all that a logbook knows of its pilot, for good",
        forget,
        "runner logbook forget --run 12",
        "runner logbook forget --drill 3 --yes",
        "runner logbook forget --all",
    )
    what = sub.add_mutually_exclusive_group(required=True)
    what.add_argument("--run", type=int, metavar="N", help="that run, with all it was worked into")
    what.add_argument(
        "--drill", type=int, metavar="N", help="that drill; its cards are as if it had not been"
    )
    what.add_argument("--all", action="store_true", help="every run, every drill, every card")
    sub.add_argument("--yes", action="store_true", help="without asking")


def _add(
    commands: argparse._SubParsersAction[argparse.ArgumentParser],
    name: str,
    about: str,
    command: Callable[[argparse.Namespace], int],
    *examples: str,
) -> argparse.ArgumentParser:
    sub = commands.add_parser(
        name,
        help=about.partition(";")[0].partition(". ")[0],
        description=about[0].upper() + about[1:] + ".",
        epilog="examples:\n" + "\n".join(f"  {example}" for example in examples),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    sub.add_argument("--logbook", default="", metavar="FILE", help="which logbook (your own)")
    sub.set_defaults(command=command)
    return sub


def _path(arguments: argparse.Namespace) -> Path:
    from runner.logbook.store import default_path

    return Path(arguments.logbook) if arguments.logbook else default_path()


@contextlib.contextmanager
def _reading(path: Path) -> Iterator[sqlite3.Connection]:
    """The logbook as it is at one moment."""
    from runner.logbook.opening import reading

    try:
        with contextlib.closing(reading(path)) as connection:
            connection.execute("BEGIN")
            yield connection
    except sqlite3.Error as error:
        raise RunnerError(
            f"{path}: this logbook cannot be read ({error}); see runner logbook check"
        ) from error


def list_(arguments: argparse.Namespace) -> int:
    """List what is there."""
    from runner.logbook.listing import drills_of, runs_of

    if arguments.last < 0:
        raise RunnerError(f"--last {arguments.last}: how many to list; 0 lists all")
    path = _path(arguments)
    with _reading(path) as connection:
        runs, more_runs = runs_of(connection, arguments.last)
        drills, more_drills = drills_of(connection, arguments.last)
    print(path)
    if not runs and not drills:
        print("Nothing yet.")
    if runs:
        print("\nRuns")
    for run in runs:
        print(f"{run.id:>6}  {_time(run.started)}  {run.ended:<9}  {run.procedures}")
    _more(more_runs, "run")
    if drills:
        print("\nDrills")
    for drill in drills:
        answered = f"{drill.right} of {drill.asked} right"
        print(f"{drill.id:>6}  {_time(drill.started)}  {drill.ended:<9}  {drill.kind}, {answered}")
    _more(more_drills, "drill")
    return 0


def _more(number: int, what: str) -> None:
    if number:
        print(f"        and {_counted(number, 'earlier ' + what)} (--last 0 lists all)")


def _time(started: str) -> str:
    try:
        return datetime.fromisoformat(started).astimezone().strftime("%Y-%m-%d %H:%M")
    except ValueError:
        return f"{started[:16]:<16}"


def export(arguments: argparse.Namespace) -> int:
    """Write the lines; a file is there whole or not at all."""
    from runner.logbook.exporting import records
    from runner.logbook.lines import write_line

    path = _path(arguments)
    with _reading(path) as connection:
        if arguments.run is not None:
            _must_have(connection, path, "run", arguments.run)
        counts = {"run": 0, "drill": 0, "card": 0}
        with _output(arguments) as out:
            for record in records(connection, arguments.run):
                if record["is"] in counts:
                    counts[record["is"]] += 1
                out.write(write_line(record))
    told = ", ".join(_counted(number, what) for what, number in counts.items() if number)
    print(f"Exported {told or 'an empty logbook'}.", file=sys.stderr)
    return 0


@contextlib.contextmanager
def _output(arguments: argparse.Namespace) -> Iterator[IO[str]]:
    if arguments.file == "-":
        yield sys.stdout
        return
    path = Path(arguments.file)
    if path.exists() and not arguments.force:
        raise RunnerError(f"{path}: exists already; give another name, or --force to write over it")
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        try:
            with part.open("w", encoding="utf-8", newline="\n") as out:
                yield out
                out.flush()
                os.fsync(out.fileno())
            part.replace(path)
        except BaseException:
            part.unlink(missing_ok=True)
            raise
    except OSError as error:
        raise RunnerError(f"{path}: cannot be written ({error.strerror})") from error


def import_(arguments: argparse.Namespace) -> int:
    """Take the lines in; 0, or 2 where something of them was left out."""
    from runner.logbook.importing import import_lines
    from runner.logbook.opening import open_logbook

    path = _path(arguments)
    with _input(arguments.file) as lines, contextlib.closing(open_logbook(path)) as connection:
        try:
            result = import_lines(connection, _text_lines(lines), arguments.file)
        except sqlite3.Error as error:
            raise RunnerError(
                f"{path}: the logbook cannot be written ({error}); what came before is kept, and "
                "the same import goes on from there"
            ) from error
    for line in result.left_out:
        print(line, file=sys.stderr)
    told = ", ".join(
        (
            _counted(result.runs, "run"),
            _counted(result.drills, "drill"),
            _counted(result.cards, "card"),
        )
    )
    rest = "; the rest of the file is kept" if result.left_out else ""
    print(f"Imported {told}; {result.known} were here already{rest}.")
    return WRONG_INPUT if result.left_out else 0


@contextlib.contextmanager
def _input(name: str) -> Iterator[IO[bytes]]:
    if name == "-":
        yield sys.stdin.buffer
        return
    try:
        file = Path(name).open("rb")  # noqa: SIM115
    except OSError as error:
        raise RunnerError(f"{name}: cannot be read ({error.strerror})") from error
    with file:
        yield file


def _text_lines(lines: IO[bytes]) -> Iterator[str]:
    from runner.logbook.lines import LONGEST

    while line := lines.readline(LONGEST + 2):
        # What is too long comes in pieces, none of which is a line of ours.
        yield line.decode("utf-8", "replace")


def check(arguments: argparse.Namespace) -> int:
    """Check; 0 where all is sound, else 2 and one line for each fault."""
    from runner.logbook.checking import check as look

    path = _path(arguments)
    shows = sys.stderr.isatty()

    def on_run(done: int, of: int) -> None:
        if shows and (done % 50 == 0 or done == of):
            print(f"\r{done} of {of} runs", end="\n" if done == of else "", file=sys.stderr)

    with _reading(path) as connection:
        found = look(connection, str(path), on_run)
    for fault in found.faults:
        print(f"{path}: {fault}", file=sys.stderr)
    if found.faults:
        return WRONG_INPUT
    print(
        f"{path}: sound. {_counted(found.runs, 'run')}, {_counted(found.events, 'event')}, "
        f"{_counted(found.drills, 'drill')}, {_counted(found.answers, 'answer')}, "
        f"{_counted(found.cards, 'card')}; {_counted(found.replayed, 'run')} replayed."
    )
    if found.replayed < found.runs:
        older = _counted(found.runs - found.replayed, "run")
        print(f"{older} of other rules than this Runner's cannot be replayed by it.")
    return 0


def forget(arguments: argparse.Namespace) -> int:
    """Delete; 0 when it is gone, 1 when the pilot said no."""
    from runner.logbook import forgetting
    from runner.practice.reworking import rework

    path = _path(arguments)
    with _reading(path) as connection:
        question = _question(arguments, connection, path)
    if not arguments.yes and not _agreed(question):
        print("Nothing was deleted.")
        return 1
    if arguments.all:
        smaller = forgetting.forget_all(path)
    elif arguments.run is not None:
        smaller = forgetting.forget_run(path, arguments.run)
    else:
        smaller = forgetting.forget_drill(path, arguments.drill, rework)
    print("Deleted." if smaller else "Deleted; the file could not be made smaller.")
    return 0


def _question(arguments: argparse.Namespace, connection: sqlite3.Connection, path: Path) -> str:
    from runner.logbook.forgetting import held

    if arguments.all:
        counts = held(connection)
        told = ", ".join(_counted(n, what.removesuffix("s")) for what, n in counts.items())
        return f"Delete everything in {path}, {told}?"
    what = "run" if arguments.run is not None else "drill"
    number = arguments.run if arguments.run is not None else arguments.drill
    started = _must_have(connection, path, what, number)
    return f"Delete {what} {number} of {_time(started)}?"


def _must_have(connection: sqlite3.Connection, path: Path, what: str, number: int) -> str:
    row = None
    if abs(number) < 2**63:
        row = connection.execute(f"SELECT started FROM {what}s WHERE id = ?", (number,)).fetchone()
    if row is None:
        raise RunnerError(f"{path}: this logbook has no {what} {number}; see runner logbook list")
    return str(row[0])


def _counted(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _agreed(question: str) -> bool:
    print(f"{question} Type yes to delete: ", end="", flush=True)
    answer = sys.stdin.readline() if sys.stdin is not None else ""
    print()
    return answer.strip().lower() in ("y", "yes")
