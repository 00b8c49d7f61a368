"""``runner doctor``: each part of Runner on this machine, and the command that mends it."""

from __future__ import annotations

import argparse
import os
import shutil
import sys
import textwrap


def doctor(arguments: argparse.Namespace) -> int:
    """Print the state of every part; always 0: with keys and lines of text a flight can fly."""
    del arguments
    from runner.voice.probe import probe
    from runner.voice.roster import in_words, roster

    width = min(shutil.get_terminal_size().columns, 100)
    parts = [_terminal(), _logbook(), *probe()]
    for part, works, what, remedy in parts:
        text = f"{part[0].upper()}{part[1:]}: {'works' if works else 'does not work'}. {what}"
        print(_filled(text, width))
        if remedy:
            print(f"  To mend it: {remedy}")
    print(_filled(f"Recognisers: {in_words(roster())}", width))
    broken = [part for part, works, _, _ in parts if not works]
    summary = f"{len(parts) - len(broken)} of {len(parts)} parts work."
    if broken:
        summary += f" Not working: {', '.join(broken)}."
    print(textwrap.fill(summary, width))
    return 0


def _filled(text: str, width: int) -> str:
    # A path or a device's name cut in two could be neither read aloud nor copied.
    return textwrap.fill(
        text, width, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False
    )


def _terminal() -> tuple[str, bool, str, str]:
    if not sys.stdout.isatty():
        return (
            "terminal",
            False,
            "Standard output is not a terminal, so the full screen cannot be shown here.",
            "runner fly --screen plain",
        )
    columns, rows = shutil.get_terminal_size()
    if columns < 80 or rows < 24:
        return (
            "terminal",
            False,
            f"It has {columns} columns and {rows} rows; the full screen wants 80 by 24. "
            "Make the window larger, or have lines of text.",
            "runner fly --screen plain",
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
        return "logbook", False, str(error), "runner fly --logbook FILE"
    return "logbook", True, f"{path}, {runs} runs.", ""
