"""``runner doctor``: each part of Runner on this machine, and the command that mends it."""

from __future__ import annotations

import argparse
import os
import shutil
import sys
import textwrap


def doctor(arguments: argparse.Namespace) -> int:
    """Print the state of every part; 0 when a flight can be flown with keys at least."""
    del arguments
    from runner.voice.probe import probe

    parts = [_terminal(), _logbook(), *probe()]
    for part, works, what, remedy in parts:
        text = f"{part}: {'works' if works else 'does not work'}. {what}"
        print(textwrap.fill(text, 96, subsequent_indent="    "))
        if remedy:
            print(f"    to mend it: {remedy}")
    return 0


def _terminal() -> tuple[str, bool, str, str]:
    if not sys.stdout.isatty():
        return (
            "terminal",
            False,
            "Standard output is not a terminal, so the full screen cannot be shown here.",
            "run it in a terminal, or fly with --screen plain",
        )
    columns, rows = shutil.get_terminal_size()
    if columns < 80 or rows < 24:
        return (
            "terminal",
            False,
            f"It has {columns} columns and {rows} rows; the full screen wants 80 by 24.",
            "make the window larger, or fly with --screen plain",
        )
    return (
        "terminal",
        True,
        f"{columns} columns, {rows} rows, {os.environ.get('TERM', 'kind not told')}.",
        "",
    )


def _logbook() -> tuple[str, bool, str, str]:
    from runner.errors import RunnerError
    from runner.logbook.store import Logbook, default_path

    path = default_path()
    try:
        book = Logbook(path)
        runs = len(book.runs())
        book.close()
    except RunnerError as error:
        return "logbook", False, str(error), "fly with --logbook and another file"
    return "logbook", True, f"{path}, {runs} runs.", ""
