"""``runner check``: what is wrong with files, and what could be better."""

from __future__ import annotations

import argparse


def check(arguments: argparse.Namespace) -> int:
    """Print errors and advice; 0 when there is no error, 2 otherwise."""
    from runner.checklist.check import check_files
    from runner.engine.opposites import opposite_texts
    from runner.feed.map import load_map_text

    lines, good = check_files(
        arguments.files,
        opposite_texts,
        lambda text, file, aircraft: len(load_map_text(text, file, aircraft).entries),
    )
    for line in lines:
        print(line)
    return 0 if good else 2
