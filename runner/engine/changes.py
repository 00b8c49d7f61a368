"""When figures change in flight: what is said of it, and which items are asked again.

An item is held against the values that were *said* when it was answered, rounded as they
were, and only within its phase: a change that rounding hides is no change, and what an
earlier phase quoted is over.
"""

from __future__ import annotations

from runner.engine.asking import pose
from runner.engine.conditions import applies
from runner.engine.events import FiguresChanged
from runner.engine.lines import figure_line, join, plain
from runner.engine.lists import after_list, keep_list, used_now, with_item
from runner.engine.speaking import Turn
from runner.engine.state import ItemRun, ListRun

MOST_SAID = 6
"""More changes than this are shown and not said."""


def figures_changed(turn: Turn, event: FiguresChanged) -> None:
    """Keep the new figures, say what matters now, and ask again what used an old value."""
    run = turn.run
    before = run.figures
    figures = {name: f for name, f in before.items() if name not in event.gone}
    figures.update((figure.name, figure) for figure in event.changed)
    run.figures = figures
    names = [
        figure.name
        for figure in event.changed
        if (old := before.get(figure.name)) is None or old.shown != figure.shown
    ]
    names += [name for name in event.gone if name in before]
    if not names:
        return
    run.agreed = ("", "")
    if event.followed:
        _follow(turn, frozenset(names))
        return
    run.changed = tuple(dict.fromkeys((*run.changed, *names)))
    titles = {f.name: f.title for f in (*before.values(), *event.changed) if f.title}
    relevant = _relevant(turn)
    spoken = 0
    for name in names:
        title = plain(turn.program, titles.get(name) or name.replace("_", " "))
        value = figure_line(turn.program, figures.get(name))
        turn.note(f"{title.text} now {value.text}", "figures")
        if name in relevant and spoken < MOST_SAID and not run.finished:
            turn.say_first("changed", figure=title, value=value)
            spoken += 1
    compare_figures(turn)
    _say_or_ask(turn, frozenset(names))


def _follow(turn: Turn, names: frozenset[str]) -> None:
    """Figures that followed the readings: items that used them are not asked again, now or when
    something else changes."""
    for list_run in _of_this_phase(turn):
        changed = list_run
        for item_id, item_run in list_run.items.items():
            if item_run.status == "done" and names.intersection(n for n, _ in item_run.used):
                used = used_now(turn, turn.program.items[item_id])
                fresh = ItemRun("done", item_run.answered, used, item_run.by)
                changed = with_item(changed, item_id, fresh, changed.last)
        if changed is not list_run:
            keep_list(turn, changed)


def _relevant(turn: Turn) -> set[str]:
    """What this phase shows, and what its answered items have used."""
    run = turn.run
    phases = turn.program.procedures.phases[run.phase : run.phase + 1]
    names = {name for phase in phases for name in phase.figures}
    for list_run in _of_this_phase(turn):
        for item_run in list_run.items.values():
            names.update(name for name, _ in item_run.used)
    if run.stack and run.stack[-1].item:
        names.update(turn.item.used)
    return names


def _of_this_phase(turn: Turn) -> list[ListRun]:
    run = turn.run
    phase_of = turn.program.phase_of
    active = {frame.key for frame in run.stack}
    return [
        list_run
        for list_run in run.lists.values()
        if phase_of.get(list_run.list) == run.phase or list_run.key in active
    ]


def compare_figures(turn: Turn) -> None:
    """Mark the items of this phase to be asked again whose figures are not what was said.

    An item whose value came back before it was asked is done again; one that did not
    apply and now does is asked.
    """
    run = turn.run
    active = {frame.key for frame in run.stack}
    asked = (run.stack[-1].key, run.stack[-1].item) if run.stack else ("", "")
    for list_run in _of_this_phase(turn):
        changed = list_run
        for item_id, item_run in list_run.items.items():
            if (list_run.key, item_id) == asked:
                continue
            item = turn.program.items[item_id]
            if item_run.status == "not applicable":
                if item.condition is not None and applies(item, run.figures):
                    again = ItemRun("ask again")
                    changed = with_item(changed, item_id, again, changed.last)
                continue
            if not item.ask_again or not item_run.used:
                continue
            same = item_run.used == used_now(turn, item)
            if item_run.status == "done" and not same:
                again = ItemRun("ask again", item_run.answered, item_run.used, item_run.by)
                changed = with_item(changed, item_id, again, changed.last)
            elif item_run.status == "ask again" and same:
                again = ItemRun("done", item_run.answered, item_run.used, item_run.by)
                changed = with_item(changed, item_id, again, changed.last)
        if changed is list_run:
            continue
        keep_list(turn, changed)
        if list_run.key in active:
            continue
        if any(r.status == "ask again" for r in changed.items.values()):
            run.reopened = tuple(dict.fromkeys((*run.reopened, list_run.key)))
        else:
            run.reopened = tuple([key for key in run.reopened if key != list_run.key])


def _say_or_ask(turn: Turn, names: frozenset[str]) -> None:
    run = turn.run
    if run.finished or run.paused:
        turn.lead.clear()
        return
    if run.asking == "call" and run.reopened:
        turn.hush()
        after_list(turn)
        return
    if run.asking in ("item", "engine confirm"):
        quoted = turn.program.names[run.stack[-1].item]
        if names.intersection(quoted):
            turn.hush()
            pose(turn)
            return
    if turn.lead:
        prompting = bool(run.speaking) and run.speaking[-1] == run.prompting
        line = join(turn.lead)
        turn.lead.clear()
        utterance = turn.say(line)
        if prompting:
            run.prompting = utterance
