"""``runner voice forget``: a pilot deletes what is kept of their voice."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from runner.errors import RunnerError
from runner.phrasing.normal import normalise

if TYPE_CHECKING:
    from runner.voice.takes import Takes

ABOUT = "delete recordings of your voice: of one phrase, what was heard in flight, or all"

EXAMPLES = (
    "runner voice forget --phrase 'three green'",
    "runner voice forget --heard",
    "runner voice forget --all --name second-pilot --yes",
)


def add_forget(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """The command ``forget`` among the others of ``runner voice``."""
    sub = commands.add_parser(
        "forget",
        help=ABOUT,
        description=ABOUT[0].upper() + ABOUT[1:] + ".",
        epilog="examples:\n" + "\n".join(f"  {example}" for example in EXAMPLES),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    sub.set_defaults(command=forget)
    what = sub.add_mutually_exclusive_group(required=True)
    what.add_argument(
        "--phrase",
        action="append",
        default=[],
        metavar="TEXT",
        help="all takes of that phrase; may be given several times",
    )
    what.add_argument(
        "--heard", action="store_true", help="only what was kept of answers heard in flight"
    )
    what.add_argument("--all", action="store_true", help="everything, settings too")
    sub.add_argument("--name", default="pilot", metavar="NAME", help="whose voice it is")
    sub.add_argument("--yes", action="store_true", help="without asking")


def forget(arguments: argparse.Namespace) -> int:
    """Delete what was asked for; 0 when it is gone, 1 when the pilot said no."""
    from runner.voice.takes import Takes, takes_folder

    folder = takes_folder(arguments.name)
    if not folder.is_dir():
        raise RunnerError(f"--name {arguments.name}: nothing is kept in {folder.parent}")
    takes = Takes(folder)
    wanted = [normalise(phrase) for phrase in arguments.phrase]
    for phrase, plain in zip(arguments.phrase, wanted, strict=True):
        if plain not in takes.known():
            raise RunnerError(f"--phrase {phrase!r}: nothing is kept of it in {folder}")
    if not arguments.yes and not _agreed(_question(arguments, wanted, takes)):
        print("Nothing was deleted.")
        return 1
    if arguments.all:
        takes.clear()
    elif arguments.heard:
        takes.forget_heard()
    else:
        for plain in wanted:
            takes.remove(plain)
    print("Deleted.")
    return 0


def _question(arguments: argparse.Namespace, wanted: list[str], takes: Takes) -> str:
    if arguments.all:
        count = len(takes.known())
        return f"Delete everything in {takes.folder}, {_counted(count, 'phrase')}?"
    if arguments.heard:
        count = sum(len(takes.heard(phrase)) for phrase in takes.known())
        return f"Delete {_counted(count, 'take')} heard in flight?"
    named = ", ".join(f"'{p}' ({_counted(len(takes.takes(p)), 'take')})" for p in wanted)
    return f"Delete {named}?"


def _counted(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _agreed(question: str) -> bool:
    print(f"{question} Type yes to delete: ", end="", flush=True)
    answer = sys.stdin.readline() if sys.stdin is not None else ""
    print()
    return answer.strip().lower() in ("y", "yes")
