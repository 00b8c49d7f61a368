"""``runner voice enrol``: the pilot records the phrases that their own procedures need."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from runner.commands.forget import add_forget
from runner.errors import RunnerError
from runner.phrasing.normal import normalise

if TYPE_CHECKING:
    from runner.engine.program import Program
    from runner.voice.enrolment import Plan
    from runner.voice.takes import Takes

ABOUT = "record the phrases that your procedures need, so that they are heard in your voice"

EXAMPLES = (
    "runner voice enrol",
    "runner voice enrol --for before-takeoff",
    "runner voice enrol my-airliner.yaml --name second-pilot --phrases 60",
    "runner voice enrol --from-folder recordings",
)

SECONDS_A_TAKE = 0.2
"""What the test of an enrolment takes, about."""

FOLDER_HELP = (
    "take WAV files instead of the microphone: DIR/PHRASE/anything.wav, or DIR/PHRASE_1.wav; "
    "a phrase's words are parted by spaces or hyphens ('three-green_2.wav')"
)


def add_enrol(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """The commands ``enrol`` and ``forget`` among the others of ``runner voice``."""
    _add_enrol(commands)
    add_forget(commands)


def _add_enrol(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    sub = commands.add_parser(
        "enrol",
        help=ABOUT,
        description=ABOUT[0].upper() + ABOUT[1:] + ".",
        epilog="examples:\n" + "\n".join(f"  {example}" for example in EXAMPLES),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    sub.set_defaults(command=enrol)
    sub.add_argument(
        "procedures",
        nargs="?",
        default="whimbrel-four",
        metavar="PROCEDURES",
        help="a procedures file, or the name of a shipped one (whimbrel-four, sanderling)",
    )
    sub.add_argument("--name", default="pilot", metavar="NAME", help="whose voice it is")
    sub.add_argument("--from-folder", default="", metavar="DIR", help=FOLDER_HELP)
    sub.add_argument(
        "--phrases",
        type=int,
        default=0,
        metavar="N",
        help="only the N most useful phrases (no number: all that the procedures need)",
    )
    sub.add_argument(
        "--for",
        dest="lists",
        action="append",
        default=[],
        metavar="LIST|PHASE",
        help="only what that list, or the lists of that phase, need; may be given several times",
    )
    sub.add_argument(
        "--again",
        action="append",
        default=[],
        metavar="PHRASE",
        help="forget the takes of that phrase and record it anew; may be given several times",
    )
    sub.add_argument(
        "--retune",
        choices=("ask", "yes", "no"),
        default="",
        help="whether sure answers heard in flight are kept as further takes (at first: no)",
    )
    sub.add_argument("--voice", default="", metavar="STYLE", help="cockpit, icao, faa, or a file")
    sub.add_argument("--microphone-name", default="", metavar="NAME", help="a part of its name")
    sub.add_argument("--speaker-name", default="", metavar="NAME", help="a part of its name")


def enrol(arguments: argparse.Namespace) -> int:
    """Record what is missing and test it; 0 when nothing is left to record, else 1."""
    from runner.voice.embedding import Embedder
    from runner.voice.enrolment import TAKES_EACH, lists_named, plan_for, progress
    from runner.voice.take_checks import Comparison
    from runner.voice.takes import Takes, takes_folder

    if arguments.phrases < 0:
        raise RunnerError(f"--phrases {arguments.phrases}: a number of phrases is 1 or more")
    program = _program(arguments)
    lists = [each for name in arguments.lists for each in lists_named(program, name)]
    plan = plan_for(program, lists)
    if arguments.phrases:
        plan = plan.first(arguments.phrases)
    takes = Takes(takes_folder(arguments.name))
    comparison = Comparison(takes.enrolled, Embedder())
    _forget(arguments.again, plan, takes)
    before = progress(plan, takes)
    _say_troubles(takes)
    whose = " and ".join(arguments.lists) or arguments.procedures
    print(
        f"{whose} needs {len(plan.phrases)} phrases, {TAKES_EACH} takes each; "
        f"{before.done} are recorded."
    )
    if arguments.from_folder:
        from runner.commands.enrol_folder import take_folder

        take_folder(Path(arguments.from_folder), plan, takes, comparison)
    elif before.left:
        from runner.commands.enrol_walk import walk

        walk(plan, takes, comparison, arguments.microphone_name, arguments.speaker_name)
    after = progress(plan, takes)
    if takes.phrases():
        settle_retuning(arguments.retune, takes)
        print(f"Takes are kept in {takes.folder}, readable by you alone.")
    if len(takes.phrases()) > 1 and (arguments.from_folder or not after.left):
        self_test(plan, takes, program.style.long_form)
    if after.left:
        print(
            f"{after.done} of {after.whole} phrases are recorded; the same command goes on with "
            f"'{after.left[0].phrase}'."
        )
        return 1
    return 0


def _forget(phrases: Sequence[str], plan: Plan, takes: Takes) -> None:
    needed = {wanted.phrase for wanted in plan.phrases}
    wanted = [normalise(phrase) for phrase in phrases]
    for phrase, plain in zip(phrases, wanted, strict=True):
        if plain not in needed:
            raise RunnerError(f"--again {phrase!r}: that is not among the phrases needed")
    for plain in wanted:
        takes.remove(plain)


def self_test(plan: Plan, takes: Takes, long_form: str) -> None:
    """Hear each take as it would be heard in flight, and say which phrases are not safe."""
    from runner.voice.rehearsal import advice, rehearse

    there = [w.phrase for w in plan.phrases if len(takes.enrolled(w.phrase)) > 1]
    count = sum(len(takes.enrolled(phrase)) for phrase in there)
    minutes = round(count * SECONDS_A_TAKE / 60)
    long = f"; about {minutes} min" if minutes else ""
    print(
        f"Testing {len(there)} phrases, {count} takes: each against what is heard beside it{long}."
    )
    terminal = sys.stdout.isatty()

    def told(done: int, whole: int) -> None:
        if terminal:
            sys.stdout.write(f"\r  {done} of {whole}\033[K")
            sys.stdout.flush()

    results = rehearse(plan, takes, told)
    if terminal:
        sys.stdout.write("\r\033[K")
    faults = [line for result in results if (line := advice(result, long_form))]
    for line in faults:
        print(f"  {line}")
    heard = sum(result.takes for result in results)
    accepted = sum(result.accepted for result in results)
    wrong = sum(n for result in results for _, n in result.taken_for)
    print(
        f"Of {heard} takes {accepted} were accepted as what they are, {wrong} as something else; "
        f"{heard - accepted - wrong} would have to be said again."
    )
    if faults:
        print(f"{len(faults)} phrases are not told apart safely; Runner asks again, not guesses.")
    else:
        print("Every phrase is told from all others.")


def settle_retuning(how: str, takes: Takes) -> None:
    """Keep what the pilot says about keeping answers heard in flight; ``how`` as on the line."""
    if not how:
        return
    agreed = how == "yes"
    if how == "ask":
        print(
            "May sure answers that you give in flight be kept as further takes, here, at most "
            "three a phrase? Type yes to agree: ",
            end="",
            flush=True,
        )
        agreed = sys.stdin is not None and sys.stdin.readline().strip().lower() in ("y", "yes")
        print()
    takes.retune(agreed)
    if agreed:
        print("Sure answers will be kept; runner voice forget --heard forgets them.")
    else:
        print("Nothing that is heard in flight is kept.")


def _say_troubles(takes: Takes) -> None:
    for trouble in takes.troubles:
        print(trouble, file=sys.stderr)


def _program(arguments: argparse.Namespace) -> Program:
    from runner.checklist.cache import load_procedures_cached, load_voice_cached
    from runner.checklist.load import find_file
    from runner.engine.program import Program

    procedures = load_procedures_cached(find_file(arguments.procedures, ("checklists",)))
    style = arguments.voice or procedures.voice or "cockpit"
    return Program(procedures, load_voice_cached(find_file(style, ("voices",))))
