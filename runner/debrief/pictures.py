"""The pictures of a debrief's page: each gives the markup of one SVG element."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import cycle
from typing import Any

from runner.debrief.chances import wilson
from runner.debrief.comparison import Pair
from runner.debrief.drawing import drawn, shortened, time_across
from runner.debrief.drilled import Drilled, Week
from runner.debrief.kept import Book
from runner.debrief.looked import Debrief
from runner.debrief.past import Past, RunTold
from runner.debrief.record import Held, ItemRecord, Record
from runner.errors import RunnerError

MOST_ROWS = 14
"""So many items in one picture; the table beside it has all."""

MOST_LISTS = 40
LETTERS = 44
"""So many characters of a name go across a picture."""

WEAK = 0.7
ACROSS = 17
"""So many items of a list stand in one row of cells."""

DASHES: tuple[Any, ...] = ((0, ()), (0, (6, 2)), (0, (2, 1.5)), (0, (7, 2, 1.5, 2)), (0, (1, 2.5)))

Cells = list[tuple[str, list[float | None]]]
"""Titles of lists with how likely each item is known, None where it was never drilled."""


def time_line(record: Record, says: str) -> str:
    """Lists as bars over the time of the run, callouts and interruptions above them."""
    lists = [one for one in record.lists if one.spans]
    lists.sort(key=lambda one: one.spans[0][0])
    lists = lists[:MOST_LISTS]
    marks = (
        ("callouts", "^", [one.at for one in record.happenings if one.kind == "callout"]),
        (
            "interruptions, warnings",
            "x",
            [
                one.at
                for one in record.happenings
                if one.kind in ("interruption", "limit", "feed", "stopped")
            ],
        ),
    )

    def draw(axes: Any) -> None:
        place = 0.0
        for title, marker, times in marks:
            axes.text(0, place, f"{title} ({len(times)})", va="center")
            axes.plot(
                times,
                [place + 0.45] * len(times),
                marker,
                color="black",
                markersize=4,
                clip_on=False,
            )
            place += 1
        for one in lists:
            name = shortened(one.title, LETTERS)
            axes.text(0, place, f"{name}, abnormal" if one.abnormal else name, va="center")
            for begin, until in one.spans:
                axes.barh(
                    place + 0.45,
                    max(until - begin, record.length / 300),
                    left=begin,
                    height=0.28,
                    color="white" if one.abnormal else "0.35",
                    edgecolor="black",
                    linewidth=0.7,
                    hatch="/////" if one.abnormal else None,
                )
            place += 1
        for _, at in record.phases:
            if at:
                axes.axvline(at, color="0.6", linewidth=0.7, dashes=(1, 2), zorder=0)
        axes.set_ylim(place - 0.2, -0.5)
        axes.set_yticks([])
        axes.spines["left"].set_visible(False)
        time_across(axes, record.length)
        axes.set_xlabel("time of the run; dotted: a new phase")

    return drawn("line", says, 0.7 + 0.31 * (len(lists) + 2), draw)


def most_telling(record: Record, past: Past) -> list[ItemRecord]:
    """The items that took longest against their own past, or longest where there is none."""

    def rank(item: ItemRecord) -> float:
        before = past.items.get(item.item)
        usual = before.median_ms if before is not None else None
        return (item.answer_ms or 0) / max(usual or 1000.0, 200.0)

    timed = [item for item in record.items if item.answer_ms is not None]
    return sorted(timed, key=rank, reverse=True)[:MOST_ROWS]


def times(items: Sequence[ItemRecord], past: Past, says: str) -> str:
    """Times to answer against one's own past."""

    def draw(axes: Any) -> None:
        for place, item in enumerate(items):
            before = sorted(past.items[item.item].times) if item.item in past.items else []
            axes.text(0, place - 0.32, shortened(item.challenge, LETTERS), va="center")
            if before:
                low, middle, high = (
                    before[round(share * (len(before) - 1))] / 1000 for share in (0.1, 0.5, 0.9)
                )
                axes.barh(place + 0.12, high - low, left=low, height=0.26, color="0.8")
                axes.plot([middle, middle], [place - 0.06, place + 0.3], color="black", linewidth=2)
            assert item.answer_ms is not None
            axes.plot(
                item.answer_ms / 1000,
                place + 0.12,
                "o",
                markersize=6,
                markerfacecolor="none",
                markeredgecolor="black",
                markeredgewidth=1.5,
                clip_on=False,
            )
        _rows(axes, len(items))
        axes.set_xlabel("seconds from the challenge to the answer's end")

    return drawn("times", says, 0.7 + 0.36 * len(items), draw)


def compared(changes: Sequence[Pair], says: str) -> str:
    """Times to answer of two runs."""
    shown = [p for p in changes if p.first is not None and p.second is not None][:MOST_ROWS]

    def draw(axes: Any) -> None:
        for place, pair in enumerate(shown):
            assert pair.first is not None and pair.second is not None
            before = (pair.first.answer_ms or 0) / 1000
            after = (pair.second.answer_ms or 0) / 1000
            axes.text(0, place - 0.32, shortened(pair.challenge, LETTERS), va="center")
            axes.plot([before, after], [place + 0.12] * 2, color="0.5", linewidth=1)
            axes.plot([before] * 2, [place - 0.04, place + 0.28], color="black", linewidth=2)
            axes.plot(
                after,
                place + 0.12,
                "o",
                markersize=6,
                markerfacecolor="white",
                markeredgecolor="black",
                markeredgewidth=1.5,
                clip_on=False,
            )
        _rows(axes, len(shown))
        axes.set_xlabel("seconds to answer")

    return drawn("pair", says, 0.7 + 0.36 * len(shown), draw)


def _rows(axes: Any, rows: int) -> None:
    axes.set_ylim(rows - 0.4, -0.7)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    axes.set_xlim(left=0)
    axes.grid(axis="x")


def held(one: Held, number: int, says: str) -> str:
    """A reading of each engine against the steps of its target."""
    end = max(at for _, points in one.seen for at, _ in points)

    def draw(axes: Any) -> None:
        for (engine, points), dashes in zip(one.seen, cycle(DASHES)):
            axes.plot(
                [at for at, _ in points],
                [value for _, value in points],
                color="black",
                linewidth=0.9,
                linestyle=dashes,
                marker="o" if len(points) < 20 else "",
                markersize=2.5,
                label=f"engine {engine}" if engine else "reading",
            )
        steps = [*one.target, (end, one.target[-1][1])]
        axes.step(
            [at for at, _ in steps],
            [value for _, value in steps],
            where="post",
            color="0.55",
            linewidth=3.5,
            zorder=1,
            label="target",
        )
        begin = one.target[0][0]
        time_across(axes, end)
        axes.set_xlim(begin, max(end, begin + 1000))
        axes.ticklabel_format(axis="y", useOffset=False, style="plain")
        axes.set_title(f"{one.title}, {one.unit}" if one.unit else one.title)
        axes.grid(axis="y")
        axes.legend(
            fontsize=7, ncols=3, frameon=False, loc="upper center", bbox_to_anchor=(0.5, -0.14)
        )

    return drawn(f"held{number}", says, 2.5, draw)


def trend(runs: Sequence[RunTold], says: str) -> str:
    """Three numbers of each run, one above another."""
    across = range(1, len(runs) + 1)
    answered = [None if run.answered is None else run.answered / 1000 for run in runs]
    rows: tuple[tuple[str, list[float | None]], ...] = (
        ("seconds to answer (median)", answered),
        ("answers not taken, silences", [float(run.failed) for run in runs]),
        ("left open", [float(run.left_open) for run in runs]),
    )

    def draw(panels: Any) -> None:
        from matplotlib.ticker import MaxNLocator

        for axes, (title, values) in zip(panels, rows, strict=True):
            axes.plot(
                across,
                [float("nan") if value is None else value for value in values],
                color="black",
                linewidth=0.9,
                marker="o",
                markersize=3 if len(runs) < 40 else 1.5,
            )
            axes.set_title(title)
            counted = title != rows[0][0]
            axes.set_ylim(0, max([1.0 if counted else 0.1, *(v * 1.1 for v in values if v)]))
            axes.yaxis.set_major_locator(MaxNLocator(4, integer=counted))
            axes.xaxis.set_major_locator(MaxNLocator(6, integer=True))
            axes.grid(axis="y")
        panels[-1].set_xlabel("flight, the newest to the right")

    return drawn("trend", says, 4.0, draw, rows=3)


def weeks(found: Sequence[Week], says: str) -> str:
    """Answers a week, and the share of right ones with its interval."""
    across = range(len(found))
    labels = [f"{week.monday:%d %b}" for week in found]

    def draw(panels: Any) -> None:
        for place, week in enumerate(found):
            if not week.answers:
                continue
            low, high = (100 * share for share in wilson(week.right, week.answers))
            panels[0].plot([place, place], [low, high], color="black", linewidth=1)
            panels[0].plot(place, 100 * week.right / week.answers, "o", color="black", markersize=4)
        panels[0].set_title("right, per cent, with its 95 % interval")
        panels[0].set_ylim(0, 102)
        panels[1].bar(across, [week.answers for week in found], color="0.35", width=0.7)
        panels[1].set_title("answers")
        step = max(1, -(-len(found) // 5))
        for axes in panels:
            axes.set_xlim(-0.6, max(len(found), 4) - 0.4)
            axes.set_xticks(list(across)[::step], labels[::step])
            axes.grid(axis="y")

    return drawn("weeks", says, 3.2, draw, rows=2)


def heat_rows(book: Book, told: Debrief, known: Drilled) -> Cells:
    """The lists of which anything was drilled, with how likely each of their items is known:
    the least of its kinds of cards. Empty where the run's files cannot be read any more."""
    from runner.checklist.model import Spoken
    from runner.engine.program import program_of

    try:
        program = program_of(book.started(told.row.id))
    except RunnerError:
        return []
    likely = known.likely()
    found: Cells = []
    for checklist in program.lists.values():
        row = [
            min((card.likely for card in likely[item.id].values()), default=None)
            if item.id in likely
            else None
            for item in checklist.items
            if not isinstance(item.response, Spoken)
        ]
        if any(value is not None for value in row):
            found.append((checklist.title, row))
    return found


def heat(rows: Cells, says: str) -> str:
    """A cell for each item of each list, darker the less likely it is known."""
    lines = [
        (title if begin == 0 else "", cells[begin : begin + ACROSS])
        for title, cells in rows
        for begin in range(0, len(cells), ACROSS)
    ]

    def draw(axes: Any) -> None:
        from matplotlib.patches import Rectangle

        place = 0.0
        for title, cells in lines:
            if title:
                axes.text(0, place + 0.5, shortened(title, LETTERS), va="center")
                place += 1
            for column, value in enumerate(cells):
                shade = 1.0 if value is None else 0.25 + 0.75 * min(1.0, max(0.0, 2 * value - 1))
                axes.add_patch(
                    Rectangle(
                        (column, place), 1, 0.9, facecolor=str(shade), edgecolor="black", lw=0.5
                    )
                )
                if value is None:
                    axes.plot(column + 0.5, place + 0.45, ".", color="0.4", markersize=2)
                elif value < WEAK:
                    ink = "white" if shade < 0.6 else "black"
                    axes.plot(column + 0.5, place + 0.45, "x", color=ink, markersize=5)
            place += 1
        axes.set_xlim(-0.1, ACROSS + 0.1)
        axes.set_ylim(place + 0.1, 0)
        axes.set_axis_off()

    height = 0.2 * (len(lines) + len(rows)) + 0.2
    return drawn("heat", says, height, draw)
