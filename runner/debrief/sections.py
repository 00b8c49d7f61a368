"""What a debrief's page says, section by section, each picture with its words and numbers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from runner.debrief import pictures
from runner.debrief.chances import wilson
from runner.debrief.comparison import Comparison, trend_words
from runner.debrief.drawing import need_libraries, styled
from runner.debrief.drilled import Drilled, drilled
from runner.debrief.kept import Book
from runner.debrief.looked import Debrief
from runner.debrief.parts import Picture, Section, Table
from runner.debrief.past import ItemPast, RunTold
from runner.debrief.record import Record
from runner.debrief.summary import instead, notes
from runner.debrief.told import clock, count, day, percent, seconds

MOST_WEAK = 20
"""So many cards stand in the table of those least likely known."""


def sections_of(
    book: Book,
    told: Debrief,
    other: int | None,
    comparison: Comparison | None,
    trend: Sequence[RunTold],
    now: datetime,
) -> list[Section]:
    """The sections of a page, those with nothing to say left out."""
    need_libraries()
    with styled():
        found = [
            _advice(told, book),
            _open(told),
            _again(told),
            _time_line(told.record),
            _times(told),
            *_held(told.record),
        ]
        if comparison is not None and other is not None:
            found.append(_compared(told.row.id, other, comparison))
        found.append(_trend(trend))
        known = drilled(book.connection, now, told.file)
        found += [_weeks(known), _known(book, told, known)]
    return [section for section in found if section is not None]


def _advice(told: Debrief, book: Book) -> Section:
    text: tuple[str, ...] = ()
    if not told.advice:
        text = ("None: nothing in the record so far bears any. It takes five flights of an item.",)
    return Section("Advice", (*text, *filter(None, notes(book))), advice=told.advice)


def _open(told: Debrief) -> Section | None:
    if not told.record.left_open:
        return None
    critical = told.critical_open
    rows = tuple((name, "critical" if name in critical else "") for name in told.record.left_open)
    return Section("Left open", tables=(Table(("item or list", ""), rows),))


def _again(told: Debrief) -> Section | None:
    failed = told.failed()
    if not failed:
        return None
    rows = tuple((clock(one.at), instead(item.challenge, one)) for item, one in failed)
    return Section("Asked again", tables=(Table(("time", "what was heard instead"), rows, wide=1),))


def _time_line(record: Record) -> Section:
    says = (
        f"{count(len(record.lists), 'list')} in {clock(record.length)}, in the order in which "
        f"they were begun, with {count(record.count('callout'), 'callout')} (triangles) and "
        f"{count(record.count('interruption'), 'interruption')} (crosses)."
    )
    lists = sorted((span[0], one, span) for one in record.lists for span in one.spans)
    rows = tuple(
        (f"{clock(begin)}–{clock(until)}", one.title, one.status)
        for begin, one, (_, until) in lists
    )
    happened = tuple(
        (clock(one.at), one.kind, _with_reading(one.text, one.showed, one.level, one.unit))
        for one in record.happenings
    )
    tables = [Table(("from – to", "list", "at the end"), rows, title="Lists", wide=1)]
    if happened:
        tables.append(Table(("time", "", "what"), happened, title="What happened", wide=2))
    picture = Picture(pictures.time_line(record, says), says)
    return Section("Time line", pictures=(picture,), tables=tuple(tables))


def _with_reading(text: str, showed: float | None, level: float | None, unit: str) -> str:
    if showed is None:
        return text
    wanted = "" if level is None else f", wanted at {level:.1f}"
    return f"{text} (at {showed:.1f}{wanted} {unit})".replace(" )", ")")


def _times(told: Debrief) -> Section | None:
    timed = [item for item in told.record.items if item.answer_ms is not None]
    if not timed:
        return None
    past = told.past
    rows = tuple(
        (
            item.challenge,
            _tight(item.answer_ms),
            _tight(before.median_ms),
            str(len(before.times)),
            str(len(item.tries)) if item.tries else "",
        )
        for item in told.record.items
        if (before := past.items.get(item.item) or ItemPast("")) is not None
    )
    shown = pictures.most_telling(told.record, past)
    says = (
        f"The {count(len(shown), 'item')} that took longest against your own past (or, without "
        "one, longest of all): the ring is this flight, the bar the middle eight in ten of your "
        "earlier answers, the stroke their median."
    )
    slow = tuple(
        f"{one.item.challenge}: {seconds(one.item.answer_ms)}, longer than in any of "
        f"{one.answers} answers before (usually {seconds(one.median_ms)}, at most "
        f"{seconds(one.longest_ms)})."
        for one in told.slow
    )
    table = Table(
        ("item", "now", "usual", "of", "again"),
        rows,
        frozenset({1, 2, 3, 4}),
    )
    picture = Picture(pictures.times(shown, past, says), says)
    slow = (
        "In the table: the time to answer now, its usual time (the median of so many answers "
        "in your last flights), and how often it was asked again.",
        *slow,
    )
    return Section("Time to answer", slow, (picture,), (table,))


def _tight(ms: float | None) -> str:
    """A time to answer that a narrow column does not break."""
    return seconds(ms).replace(" ", "\N{NO-BREAK SPACE}")


def _held(record: Record) -> Iterable[Section]:
    if not record.held:
        return
    drawn, rows = [], []
    for number, held in enumerate(record.held):
        seen = [value for _, points in held.seen for _, value in points]
        wanted = [value for _, value in held.target]
        says = (
            f"{held.phase}: {held.title} was to be {_span(wanted, held.decimals)} {held.unit}; "
            f"{count(len(seen), 'reading')} from {min(seen):.{held.decimals}f} to "
            f"{max(seen):.{held.decimals}f}. The thick line is the target."
        )
        drawn.append(Picture(pictures.held(held, number, says), says))
        for engine, points in held.seen:
            values = [value for _, value in points]
            rows.append(
                (
                    held.title,
                    str(engine) if engine else "",
                    _span(wanted, held.decimals),
                    _span(values, held.decimals),
                    str(len(values)),
                )
            )
    table = Table(
        ("target", "engine", "wanted", "seen", "readings"), tuple(rows), frozenset({2, 3, 4})
    )
    yield Section("Readings against targets", pictures=tuple(drawn), tables=(table,))


def _span(values: Sequence[float], decimals: int) -> str:
    low, high = min(values), max(values)
    if low == high:
        return f"{low:.{decimals}f}"
    return f"{low:.{decimals}f}–{high:.{decimals}f}"


def _compared(this: int, other: int, told: Comparison) -> Section:
    tables = [Table(("", f"run {other}", f"run {this}"), told.counts, frozenset({1, 2}))]
    rows = tuple(
        (
            pair.challenge,
            _tight(pair.first.answer_ms if pair.first else None),
            _tight(pair.second.answer_ms if pair.second else None),
            f"{(pair.change_ms or 0) / 1000:+.1f}\N{NO-BREAK SPACE}s",
        )
        for pair in told.changes
    )
    drawn: tuple[Picture, ...] = ()
    if rows:
        tables.append(
            Table(("item", f"run {other}", f"run {this}", "change"), rows, frozenset({1, 2, 3}))
        )
        says = f"Time to answer in run {other} (stroke) and in run {this} (ring). {told.verdict}"
        drawn = (Picture(pictures.compared(told.changes, says), says),)
    return Section(f"Against run {other}", (told.verdict,), drawn, tuple(tables))


def _trend(runs: Sequence[RunTold]) -> Section | None:
    if len(runs) < 2:
        return None
    words = trend_words(runs)
    rows = tuple(
        (
            str(one.run),
            day(one.started),
            f"{one.done}",
            f"{one.left_open}",
            f"{one.failed}",
            _tight(one.answered),
        )
        for one in reversed(runs[-20:])
    )
    table = Table(
        ("run", "began", "done", "open", "again", "answer"),
        rows,
        frozenset({0, 2, 3, 4, 5}),
        wide=1,
        title="The newest first" if len(runs) <= 20 else "The newest twenty",
    )
    says = (
        f"{count(len(runs), 'flight')}, oldest to the left: median time to answer, answers not "
        "taken with silences, and what was left open."
    )
    picture = Picture(pictures.trend(runs, says), says)
    return Section("Flight by flight", (words,), (picture,), (table,))


def _weeks(known: Drilled) -> Section | None:
    if not known.weeks:
        return None
    rows = []
    for week in reversed(known.weeks):
        if week.answers:
            low, high = wilson(week.right, week.answers)
            share, bears = (
                f"{100 * week.right / week.answers:.0f}",
                f"{100 * low:.0f}–{100 * high:.0f}",
            )
        else:
            share = bears = "–"
        rows.append((f"{week.monday:%d %b %Y}", str(week.answers), share, bears, str(week.cards)))
    says = (
        f"Drills over {count(len(known.weeks), 'week')}: "
        f"{count(sum(week.answers for week in known.weeks), 'answer')}; the share of right ones "
        "with what so few or so many can bear (95 % intervals)."
    )
    table = Table(
        ("week from", "answers", "right, %", "95 %", "cards"), tuple(rows), frozenset({1, 2, 3, 4})
    )
    picture = Picture(pictures.weeks(known.weeks, says), says)
    return Section("Drills by week", pictures=(picture,), tables=(table,))


def _plain(thing: str) -> str:
    """An item or a figure that the run does not name, by its id."""
    return thing.rpartition(".")[2].replace("-", " ").replace("_", " ")


def _known(book: Book, told: Debrief, known: Drilled) -> Section | None:
    if not known.cards:
        return None
    names = {item.item: item.challenge for item in told.record.items}
    lists = pictures.heat_rows(book, told, known)
    weak = sorted(known.cards, key=lambda card: card.likely)[:MOST_WEAK]
    rows = tuple(
        (
            names.get(card.thing) or _plain(card.thing),
            card.kind,
            percent(card.likely),
            f"{card.right}/{card.asked}",
            "due" if card.due else "",
        )
        for card in weak
    )
    text = [
        "How likely each item is still known today, as the spacing (FSRS) estimates it from your "
        "answers in drills: an estimate, not a test."
    ]
    if known.unread:
        text.append(f"{count(known.unread, 'card')} could not be read and count as new.")
    drawn: tuple[Picture, ...] = ()
    if lists:
        cells = [value for _, row in lists for value in row]
        drilled_ones = [value for value in cells if value is not None]
        says = (
            f"A row of cells for each list, one cell an item: {len(drilled_ones)} of "
            f"{len(cells)} items were drilled. The darker, the less likely known; a cross is "
            "under 70 %, a dot was never drilled."
        )
        drawn = (Picture(pictures.heat(lists, says), says),)
    table = Table(
        ("item", "kind", "likely known", "right", ""),
        rows,
        frozenset({2, 3}),
        title=f"The {len(rows)} least likely known of {count(len(known.cards), 'card')}",
    )
    return Section("Likely still known", tuple(text), drawn, (table,))
