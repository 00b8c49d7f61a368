"""One step of a run: ``step(state, event) -> (state, effects)``.

A run is a list of events; its state is what the steps over them give, so replaying the
list gives the state again, byte for byte. Nothing here knows a clock, a sound, a screen, a
file or chance. Everything a step depends on lives in the state; everything that is to be
done is an effect, and what comes of it is the next event.

At any moment at most one *question* is open (``State.asking``). The question belongs to the
list on top of the stack; the lists below it are interrupted, each at its own item. A
question is one utterance and one numbered window. A new question opens a new window, and
only what was heard in the window that is open now can answer it; in a crew also what was
heard just before the same question was put again: as a reminder, because the crew changed, or
because a machine came back.

    question        answered by                        leads to
    --------------  ---------------------------------  ------------------------------------
    item            its answer, within its tolerance   done; the next item, or the list's end
                    a competitor, another number       expected and heard said; asked again
                    words that a reading contradicts   both said; asked again
                    on my word, after that             done, and said
                    the feed, by key (done)            done
                    later                              left open; once more before the end
                    go back, I disagree                an earlier item open again and asked
    engine confirm  the engine's number, affirm        the item itself
                    another engine                     expected and heard said; asked again
                    negative                           which engine
    which engine    a number                           the list about that engine
                    negative                           what was asked before
    flow            flow complete                      its items, to be verified
    briefing        briefing complete, affirm          its other items, or the list's end
    offer           affirm, continue, the list's name  that list
                    negative                           declined; named at the phase's end
    call            continue, affirm, a list's name    that list
                    a moment that offers a list        offer
    standing by     continue                           last item read, then what was asked
    any             a list's name                      that list on top; then handed back
                    stand by                           standing by
                    reject                             the rejected take-off list; no callouts
                    disregard                          as before the last answer or control
                    mute                               the same, deaf until a key is pressed
                    say again, full, terse, tones, why the same question in a new window
    none, finished  nothing                            nothing

    event           does
    --------------  ---------------------------------------------------------------------
    RunStarted      begins the first list of the first phase; a second one does nothing
    Heard           accept: as above. unclear: say again (twice), then asked again, the
                    window open until then. reject: nothing; the window stays open
    Keyed           as above, and what only a key can do: unmute, end, set an input
    Said            the end of a question starts the wait for its answer
    TimerFired      the question is put again, at growing intervals; never an answer
    FiguresChanged  what matters is said; items that used an old value are asked again:
                    after the current item, or at once where their list had ended
    Crossed         the callout, once, if armed; a speed call cuts off all but speed calls
    MomentReached   a list that must not be open is named; lists are offered, an abnormal one
                    at once
    ReadingShown    the current item done, if it waits for that reading
    LimitPassed     the limit, with its engines and its value
    CrewChanged     who came or left is said; the question is put to whom it is for
    FeedChanged     readings lost or back, once each; no time passes while it stands still
    Paused          silence until Resumed
    Resumed         where it was, last item read, the question put again
    InputEnded      the end, with what is open

A list ends when no item waits: items left open are asked once more, then it is "complete"
unless a critical one is open, and what is open is named. Where lists end, what comes next is
looked up in this order: lists to be asked again, lists offered, the next list in the file's
order, the run's end. A next list begins by itself only within its phase and after a list
that was complete; else it is named, and waits to be called.
"""

from __future__ import annotations

from typing import assert_never

from runner.engine import crewing
from runner.engine.answers import (
    answer_words,
    competitor,
    confirm,
    number,
    option,
    repeat_unclear,
    typed,
)
from runner.engine.asking import ask_again
from runner.engine.changes import figures_changed
from runner.engine.controls import call, control, put_again, unmute, which_engine
from runner.engine.effects import Effect, Hush
from runner.engine.events import (
    CrewChanged,
    Crossed,
    Event,
    FeedChanged,
    FiguresChanged,
    Heard,
    InputEnded,
    Keyed,
    LimitPassed,
    MomentReached,
    Paused,
    ReadingShown,
    Resumed,
    RunStarted,
    Said,
    TimerFired,
)
from runner.engine.inputs import give_input
from runner.engine.lines import join, plain, said
from runner.engine.lists import (
    end_run,
    enter_phase,
    everything_open,
    refresh_calls,
    say_last_done,
    start,
)
from runner.engine.program import program_of, same_program
from runner.engine.speaking import SILENCE, Turn
from runner.engine.state import State, freeze, initial_state, thaw
from runner.engine.triggers import (
    calls_to_prepare,
    crossed,
    feed_changed,
    limit_passed,
    moment,
    reading_shown,
)
from runner.engine.view import HeardView
from runner.errors import RunnerError

__all__ = ["initial_state", "step"]

NOT_UNDONE = frozenset(
    {"say_again", "why", "mute", "unmute", "full", "terse", "tones", "disregard", "end", "set"}
)
"""Controls after which *disregard* still means what came before them."""


def step(state: State, event: Event) -> tuple[State, tuple[Effect, ...]]:
    """The state after an event, and what is to be done because of it.

    Raises FileErrors where the snapshots of a RunStarted do not parse and RunnerError where
    it names a phase that does not exist; no other event raises anything.
    """
    program = state.program
    if isinstance(event, RunStarted):
        if state.started:
            return state, ()
        if program is None or not same_program(program, event):
            program = program_of(event)
    elif program is None or not state.started:
        return state, ()
    run = thaw(state)
    if event.at > run.at:
        run.at = event.at
    turn = Turn(run, program)
    if isinstance(event, Heard | Keyed):
        turn.member = event.member
    match event:
        case Heard():
            _heard(turn, state, event)
        case Said():
            _said(turn, event)
        case TimerFired():
            _timer(turn, event)
        case Keyed():
            if not (run.finished or run.paused):
                _keyed(turn, state, event)
        case Crossed():
            if not (run.finished or run.paused):
                crossed(turn, event.callout, event.also)
        case MomentReached():
            if not (run.finished or run.paused):
                moment(turn, event.moment, event.engine)
        case ReadingShown():
            if not (run.finished or run.paused):
                reading_shown(turn, event.item)
        case LimitPassed():
            if not (run.finished or run.paused):
                limit_passed(turn, event)
        case FeedChanged():
            if not (run.finished or run.paused):
                feed_changed(turn, event)
        case FiguresChanged():
            figures_changed(turn, event)
        case CrewChanged():
            if not run.finished:
                crewing.changed(turn, event)
                if not run.paused:
                    turn.put_anew(lambda: put_again(turn))
        case RunStarted():
            _start(turn, event)
        case Paused():
            _pause(turn)
        case Resumed():
            _resume(turn)
        case InputEnded():
            if not run.finished:
                _end(turn)
        case _:
            assert_never(event)
    turn.say_lead()
    turn.prepare(*calls_to_prepare(turn, state, isinstance(event, Resumed)))
    return freeze(run), tuple(turn.effects)


def _start(turn: Turn, event: RunStarted) -> None:
    run = turn.run
    phases = turn.program.procedures.phases
    run.program = turn.program
    run.started = True
    run.roles = event.roles
    run.figures = {figure.name: figure for figure in event.figures}
    run.usual = event.wordiness
    first = _phase_number(turn, event.phase or event.from_phase)
    run.first_phase = run.armed_from = first
    run.last_phase = first if event.phase else len(phases) - 1
    if phases:
        enter_phase(turn, first)
    refresh_calls(turn)
    start(turn)


def _phase_number(turn: Turn, name: str) -> int:
    names = [phase.id for phase in turn.program.procedures.phases]
    if not name:
        return 0
    if name not in names:
        raise RunnerError(f"there is no phase {name}; the phases are {', '.join(names)}")
    return names.index(name)


def _heard(turn: Turn, state: State, event: Heard) -> None:
    run = turn.run
    verdict = event.verdict
    if not run.listens_in(event.window) or run.paused:
        if verdict.decision == "accept":
            text = verdict.text or verdict.candidate or ""
            turn.note(f"heard {text}, too late to count", "heard")
            if turn.member and run.listening and not run.paused:
                _too_late(turn, text)
        return
    text = verdict.text or verdict.candidate or ""
    if verdict.decision == "reject":
        run.heard = HeardView(text, "not for Runner", run.at)
        return
    if verdict.decision == "unclear":
        run.heard = HeardView(text, "not clear", run.at)
        turn.note(f"heard {text or 'something'}: not clear", "heard")
        repeat_unclear(turn)
        return
    candidate = verdict.candidate or ""
    turn.note(f"heard {text}", "heard")
    if _refused(turn, candidate):
        run.heard = HeardView(text, "not theirs to answer", run.at, event.member)
        return
    stands = run.last_done
    asked = (run.asking, run.stack)
    undo, undo_inputs = _remember(turn, state, candidate)
    taken = _take(turn, candidate, event)
    if not taken or candidate.removeprefix("control:") in NOT_UNDONE:
        _forget(turn, candidate, undo, undo_inputs)
    if not taken:
        judgement = "makes no sense now"
        turn.note(f"{text}: makes no sense now", "judged")
    elif candidate.startswith(("control:", "call:", "moment:")):
        judgement = "taken"
    elif run.last_done != stands or (run.asking, run.stack) != asked:
        judgement = "right"
    else:
        judgement = "asked again"
    run.heard = HeardView(text, judgement, run.at, event.member)


def _too_late(turn: Turn, text: str) -> None:
    """Tell who of a crew answered a question that is no longer open, and what is asked now."""
    heard = said(turn.program, "too_late", heard=plain(turn.program, text))
    asked = plain(turn.program, turn.run.prompt)
    turn.say(join([heard, asked]), "routine", (turn.member,))


def _refused(turn: Turn, what: str) -> bool:
    """Whether it is not for this member of the crew to do: said, and the question put again."""
    phrase = crewing.may_not(turn, turn.member, what)
    if not phrase:
        return False
    role = turn.role_wanted
    turn.note(f"{turn.member}: {f'{role} answers' if role else 'observes'}", "judged")
    turn.hush()
    turn.say_first(phrase, role=plain(turn.program, role))
    put_again(turn)
    return True


def _remember(
    turn: Turn, state: State, action: str
) -> tuple[State | None, tuple[tuple[str, float | str | None], ...]]:
    run = turn.run
    before = run.undo, run.undo_inputs
    if action.removeprefix("control:") == "disregard":
        return before
    plain = thaw(state)
    plain.undo = None
    plain.undo_inputs = ()
    run.undo = freeze(plain)
    run.undo_inputs = ()
    return before


def _forget(
    turn: Turn,
    candidate: str,
    undo: State | None,
    undo_inputs: tuple[tuple[str, float | str | None], ...],
) -> None:
    if candidate in ("control:disregard", "disregard"):
        return
    turn.run.undo = undo
    turn.run.undo_inputs = undo_inputs


def _take(turn: Turn, candidate: str, event: Heard) -> bool:
    """Act on what was said; False where it makes no sense for the question that is open."""
    value = event.verdict.value
    kind, _, rest = candidate.partition(":")
    asking = turn.run.asking
    match kind:
        case "control":
            return control(turn, rest, "voice")
        case "call":
            list_id, _, argument = rest.partition(":")
            return call(turn, list_id, argument)
        case "moment":
            return moment(turn, rest)
        case "engine" if rest.isdigit():
            if asking == "which engine":
                return which_engine(turn, int(rest))
            return asking == "engine confirm" and confirm(turn, int(rest))
    if asking != "item":
        return False
    match kind:
        case "answer":
            return answer_words(turn, "voice", dict(event.readings))
        case "wrong":
            return competitor(turn, rest, event.verdict.text)
        case "option":
            return option(turn, rest, "voice")
        case "number" if value is not None:
            return number(turn, value, "voice")
    return False


def _keyed(turn: Turn, state: State, event: Keyed) -> None:
    action = event.action
    if _refused(turn, action):
        return
    undo, undo_inputs = _remember(turn, state, action)
    taken = True
    match action:
        case "unmute":
            unmute(turn)
        case "end":
            turn.hush()
            _end(turn)
        case "call":
            taken = call(turn, event.argument, event.argument2)
        case "moment":
            taken = moment(turn, event.argument)
        case "set":
            give_input(turn, event.argument, event.argument2)
        case "answer":
            taken = _typed(turn, event.argument)
        case _:
            taken = control(turn, action, "key")
    if not taken or action in NOT_UNDONE:
        _forget(turn, action, undo, undo_inputs)
    if not taken:
        said = " ".join((action.replace("_", " "), event.argument)).strip()
        turn.note(f"{said}: makes no sense now", "judged")


def _typed(turn: Turn, text: str) -> bool:
    asking = turn.run.asking
    if asking == "item":
        return typed(turn, text)
    if asking == "which engine" and text.isdecimal():
        return which_engine(turn, int(text))
    return asking == "engine confirm" and text.isdecimal() and confirm(turn, int(text))


def _said(turn: Turn, event: Said) -> None:
    run = turn.run
    utterance = event.utterance
    if utterance in run.speaking:
        run.speaking = tuple([u for u in run.speaking if u != utterance])
    if run.warnings:
        run.warnings = tuple([w for w in run.warnings if w[0] != utterance])
    if utterance == run.speed:
        run.speed = 0
    if utterance == run.urgent:
        run.urgent = 0
    if utterance == run.prompting:
        run.prompting = 0
        if run.paused or run.finished:
            return
        if run.urgent and not event.completed:
            # An urgent callout cut the question off: whoever did not hear it cannot answer it.
            ask_again(turn)
        else:
            turn.start_timer()


def _timer(turn: Turn, event: TimerFired) -> None:
    run = turn.run
    if event.timer != SILENCE or not run.timing:
        return
    run.timing = False
    run.silences += 1
    turn.note(f"no answer: {run.prompt}", "judged")
    ask_again(turn)


def _pause(turn: Turn) -> None:
    run = turn.run
    turn.stop_timer()
    turn.close()
    if run.speaking:
        turn.effects.append(Hush())
    run.speaking = ()
    run.urgent = 0
    run.speed = 0
    run.warnings = ()
    run.prompting = 0
    run.paused = True


def _end(turn: Turn) -> None:
    left = everything_open(turn)
    if left:
        turn.note("left open: " + ", ".join(left), "list")
    end_run(turn, complete=not left, left=left)


def _resume(turn: Turn) -> None:
    """Take the run up again: where it is, the last item, the question. What was being said
    was not heard."""
    run = turn.run
    run.paused = False
    run.speaking = ()
    run.urgent = 0
    run.speed = 0
    run.warnings = ()
    run.prompting = 0
    if run.finished:
        end_run(turn, run.complete, run.left_open)
        return
    run.timing = False
    if run.stack:
        turn.say_first("resumed_from", challenge=turn.place())
        say_last_done(turn)
    turn.put_anew(lambda: put_again(turn))
