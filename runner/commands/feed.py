"""``runner feed``: what a simulator sends, and which of it is which reading."""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import os
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

from runner.errors import RunnerError

if TYPE_CHECKING:
    from collections.abc import Callable

    from runner.feed.intake import Counts
    from runner.feed.reading import Readings
    from runner.feed.seen import Seen
    from runner.feed.source import Feed
    from runner.figures.model import Aircraft

Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"

SECONDS = 5.0
"""How long is listened where nothing else is said."""

REDRAW_SECONDS = 0.5


def add_feed(commands: Commands) -> None:
    """The sub-commands of ``runner feed``."""
    watch = _add(
        commands,
        "watch",
        "show what arrives: names, last values, ranges and how often",
        "runner feed watch udp://127.0.0.1:49000",
        "runner feed watch tcp://127.0.0.1:49000 --map my-simulator.yaml",
        "runner feed watch sim --seconds 5",
    )
    watch.add_argument(
        "--map", default="", metavar="FILE", help="show the aircraft's readings by this feed map"
    )
    watch.add_argument(
        "--record", default="", metavar="FILE", help="with --map: keep the readings in a new file"
    )
    watch.set_defaults(command=watch_feed)
    tie = _add(
        commands,
        "map",
        "tie the names that arrive to the aircraft's readings, by questions",
        "runner feed map udp://127.0.0.1:49000 --aircraft my-airliner-aircraft.yaml "
        "--save my-simulator.yaml",
    )
    tie.add_argument("--save", required=True, metavar="MAP.yaml", help="the new map file")
    tie.set_defaults(command=map_feed)


def _add(commands: Commands, name: str, about: str, *examples: str) -> argparse.ArgumentParser:
    sub = commands.add_parser(
        name,
        help=about,
        description=about[0].upper() + about[1:] + ".",
        epilog="examples:\n" + "\n".join(f"  {example}" for example in examples),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    sub.add_argument(
        "url",
        metavar="URL",
        help="udp://HOST:PORT, tcp://HOST:PORT, tcp-listen://HOST:PORT, a file of lines, "
        "- (standard input) or sim",
    )
    sub.add_argument(
        "--aircraft", default="whimbrel-four-aircraft", metavar="FILE", help="an aircraft file"
    )
    sub.add_argument(
        "--seconds", type=float, default=0.0, metavar="N", help="listen so long, then print"
    )
    sub.add_argument(
        "--feed-open", action="store_true", help="take readings from other machines too"
    )
    return sub


def watch_feed(arguments: argparse.Namespace) -> int:
    """Show what arrives; 0 where something did, 1 where nothing came."""
    from runner.checklist.load import load_aircraft
    from runner.feed.map import load_map
    from runner.feed.seen import Seen

    _check_seconds(arguments)
    if arguments.record and not arguments.map:
        raise RunnerError("--record keeps readings of an aircraft: say by which --map")
    aircraft = load_aircraft(arguments.aircraft)
    feed_map = load_map(arguments.map, aircraft) if arguments.map else None
    seen = Seen()

    def readings(taken: Readings) -> None:
        seen.take(taken.values, taken.at)

    async def run() -> Counts:
        from runner.feed.map import FeedMap
        from runner.feed.source import open_feed

        feed = open_feed(
            arguments.url,
            feed_map or FeedMap("", {}),
            aircraft,
            readings if feed_map else lambda _: None,
            _tell_state if feed_map else lambda _: None,
            anywhere=arguments.feed_open,
            record=arguments.record,
            on_record=None if feed_map else lambda record: seen.take(record, time.monotonic()),
        )
        await feed.start()
        try:
            if sys.stdout.isatty() and not arguments.seconds:
                await _live(feed, seen)
            else:
                await _listen(feed, arguments.seconds or SECONDS)
        finally:
            await feed.stop()
        if feed.trouble:
            print(feed.trouble, file=sys.stderr)
        return feed.counts

    with contextlib.suppress(KeyboardInterrupt):
        counts = asyncio.run(run())
        for line in table(seen):
            print(line)
        print(f"{seen.records} records, {counts.malformed} malformed, {counts.late} late.")
    return 0 if seen.records else 1


def map_feed(arguments: argparse.Namespace) -> int:
    """Ask what each reading is and save the map."""
    from runner.checklist.load import load_aircraft
    from runner.feed.map import load_map_text
    from runner.feed.wizard import Wizard

    _check_seconds(arguments)
    path = Path(arguments.save)
    if path.exists():
        raise RunnerError(f"--save {path}: there is such a file already; give another name")
    if arguments.url == "-":
        raise RunnerError("feed map: standard input is where you answer; give another source")
    aircraft = load_aircraft(arguments.aircraft)
    seconds = arguments.seconds or SECONDS
    print(f"Listening for {seconds:g} seconds.")
    seen = _seen(arguments, aircraft, seconds)
    if not seen.names:
        raise RunnerError(f"--feed {arguments.url}: nothing arrives; is the simulator sending?")
    live = not Path(arguments.url.partition("?")[0]).is_file()
    listen: Callable[[float], Seen] | None = None
    if live:
        listen = lambda wanted: _seen(arguments, aircraft, wanted)  # noqa: E731
    wizard = Wizard(seen, aircraft, _ask, print, listen, _seen_from(path, arguments.aircraft))
    text = wizard.run()
    if not wizard.tied:
        raise RunnerError("no name was tied to a reading, so no map was saved")
    load_map_text(text, str(path), aircraft)
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except OSError as error:
        raise RunnerError(
            f"--save {path}: the map cannot be saved: {error.strerror or error}"
        ) from None
    print(f"Saved {path}. See it work: runner feed watch {arguments.url} --map {path}")
    return 0


def _seen_from(map_file: Path, aircraft: str) -> str:
    """How a map names its aircraft's file: as it is found from the map's own folder."""
    if not Path(aircraft).is_file():
        return aircraft
    return os.path.relpath(aircraft, map_file.resolve().parent).replace(os.sep, "/")


def _check_seconds(arguments: argparse.Namespace) -> None:
    if not 0 <= arguments.seconds <= 86_400:
        raise RunnerError(f"--seconds {arguments.seconds:g}: 0.5 to 86400 seconds")


def _ask(prompt: str) -> str:
    try:
        return input(prompt)
    except EOFError:
        raise RunnerError("the answers ended before all was asked; no map was saved") from None


def _seen(arguments: argparse.Namespace, aircraft: Aircraft, seconds: float) -> Seen:
    """What arrives in so many seconds."""
    from runner.feed.map import FeedMap
    from runner.feed.seen import Seen
    from runner.feed.source import open_feed

    seen = Seen()

    async def run() -> None:
        feed = open_feed(
            arguments.url,
            FeedMap("", {}),
            aircraft,
            lambda _: None,
            lambda _: None,
            anywhere=arguments.feed_open,
            on_record=lambda record: seen.take(record, time.monotonic()),
        )
        await feed.start()
        try:
            await _listen(feed, seconds)
        finally:
            await feed.stop()
        if feed.trouble:
            print(feed.trouble, file=sys.stderr)

    asyncio.run(run())
    return seen


async def _listen(feed: Feed, seconds: float) -> None:
    with contextlib.suppress(TimeoutError):
        await asyncio.wait_for(feed.ended(), seconds)


async def _live(feed: Feed, seen: Seen) -> None:
    """The table on the terminal, drawn again and again until the feed ends or Ctrl-C."""
    from rich.console import Console
    from rich.live import Live
    from rich.text import Text

    ended = asyncio.ensure_future(feed.ended())
    console = Console()
    try:
        with Live(console=console, auto_refresh=False, transient=True) as live:
            while not ended.done():
                lines = table(seen)[: max(3, console.height - 3)]
                rate = "" if feed.rate is None else f", simulation at {feed.rate:.2f}"
                state = ", paused" if feed.paused else ""
                counts = feed.counts
                lines.append(
                    f"{seen.records} records, {counts.malformed} malformed, {counts.late} late"
                    f"{rate}{state}{', nothing arrives' if feed.lost else ''}. Ctrl-C ends."
                )
                live.update(Text("\n".join(lines), no_wrap=True), refresh=True)
                await asyncio.wait([ended], timeout=REDRAW_SECONDS)
    except asyncio.CancelledError:
        # Ctrl-C ends the listening; what was seen is still printed.
        task = asyncio.current_task()
        if task is not None:
            task.uncancel()
    finally:
        ended.cancel()


def _tell_state(state: str) -> None:
    print(state, file=sys.stderr)


def table(seen: Seen) -> list[str]:
    """Lines of text: name, last value, lowest, highest, times a second."""
    from runner.feed.seen import shown, shown_value

    rows = [("name", "last", "lowest", "highest", "a second")]
    for name in seen.names.values():
        low = "" if name.low is None else f"{name.low:.6g}"
        high = "" if name.high is None else f"{name.high:.6g}"
        rows.append((shown(name.name), shown_value(name.last), low, high, f"{name.rate:.1f}"))
    widths = [max(len(row[column]) for row in rows) for column in range(5)]
    return [
        "  ".join(
            [row[0].ljust(widths[0]), *(row[n].rjust(widths[n]) for n in range(1, 5))]
        ).rstrip()
        for row in rows
    ]
