"""The commands and their arguments; each command's work is in ``runner.commands``."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from typing import TypeAlias

from runner import __version__
from runner.commands.drill_options import add_drill
from runner.commands.feed import add_feed
from runner.commands.feeding import add_options as add_feed_options
from runner.commands.people import add_here
from runner.errors import RunnerError

WARNING = (
    "Runner is for simulation and training only, never for flight: the approved flight "
    "manual and qualified instruction decide."
)


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line; gives the exit status (also the program's own).

    0: complete; 1: ended with items open; 2: the input was wrong; 3: a device that was
    asked for by name is not there.
    """
    arguments = _parser().parse_args(argv)
    try:
        status: int = arguments.command(arguments)
    except RunnerError as error:
        print(error, file=sys.stderr)
        return error.status
    except KeyboardInterrupt:
        return 1
    except BrokenPipeError:
        sys.stderr.close()
        return 1
    return status


def run() -> None:
    """The console command."""
    sys.exit(main())


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="runner",
        description="Checklists read aloud and answered by voice, with the flight engineer's "
        f"figures, for simulated flight. {WARNING}",
    )
    parser.add_argument("--version", action="version", version=f"runner {__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)
    _add_fly(commands)
    _add_crew(commands)
    _add_drill(commands)
    _add_card(commands)
    _add_check(commands)
    _add_doctor(commands)
    _add_voice(commands)
    _add_feed(commands)
    _add_logbook(commands)
    _add_debrief(commands)
    return parser


_Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"


def _add(commands: _Commands, name: str, about: str, *examples: str) -> argparse.ArgumentParser:
    return commands.add_parser(
        name,
        help=about,
        description=about[0].upper() + about[1:] + ".",
        epilog="examples:\n" + "\n".join(f"  {example}" for example in examples),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )


def _add_fly(commands: _Commands) -> None:
    sub = _add(
        commands,
        "fly",
        "run a flight's checklists aloud (no file: the shipped one)",
        "runner fly",
        "runner fly --phase before-takeoff --set gross_weight=74310lb",
        "runner fly --resume",
        "runner fly --from before-takeoff --feed sim",
        "runner fly --here Anna --here Ben",
        "printf 'three green\\n' | runner fly --screen plain --speak none --listen text:-",
    )
    _add_what(sub).add_argument(
        "--resume", action="store_true", help="go on with the run that was stopped"
    )
    add_here(sub)
    _add_how(sub)
    sub.set_defaults(command=_fly)


def _add_what(sub: argparse.ArgumentParser) -> argparse._MutuallyExclusiveGroup:
    """The run's files and the part of the flight that is flown."""
    sub.add_argument(
        "procedures",
        nargs="?",
        default="whimbrel-four",
        metavar="PROCEDURES",
        help="a procedures file, or the name of a shipped one (whimbrel-four, sanderling)",
    )
    start = sub.add_mutually_exclusive_group()
    start.add_argument("--phase", default="", metavar="ID", help="that phase alone")
    start.add_argument(
        "--from", dest="from_phase", default="", metavar="ID", help="from that phase to the end"
    )
    return start


def _add_how(sub: argparse.ArgumentParser) -> None:
    """Inputs, screen, voice, devices, clock, logbook, readings."""
    _add_set(sub)
    sub.add_argument(
        "--words",
        choices=("full", "terse", "tones"),
        default="full",
        help="how much is said: all, the key word and the figure, or tones only",
    )
    sub.add_argument(
        "--screen", choices=("full", "plain"), default="full", help="plain: lines of text"
    )
    sub.add_argument(
        "--speak", default="speaker", metavar="HOW", help="speaker (the default), none, or wav:DIR"
    )
    sub.add_argument(
        "--listen",
        default="mic",
        metavar="HOW",
        help="mic (the default), keys, none, text:FILE (text:- is standard input, a line an "
        "utterance) or wav:FILE",
    )
    sub.add_argument(
        "--recogniser",
        choices=("auto", "matcher", "vosk", "pocketsphinx", "whisper"),
        default="auto",
        help="who listens (auto: the matcher, by how each answer sounds, with Vosk and Whisper "
        "where they have a model; PocketSphinx where the matcher cannot)",
    )
    sub.add_argument("--voice", default="", metavar="STYLE", help="cockpit, icao, faa, or a file")
    sub.add_argument(
        "--loudspeaker",
        action="store_true",
        help="no headset: the microphone is shut while Runner speaks",
    )
    sub.add_argument("--speaker-name", default="", metavar="NAME", help="a part of its name")
    sub.add_argument("--microphone-name", default="", metavar="NAME", help="a part of its name")
    sub.add_argument(
        "--talk",
        choices=("off", "hold", "toggle"),
        default="off",
        help="push to talk: only while held, or from press to press (a key can only toggle)",
    )
    sub.add_argument(
        "--controller", default="", metavar="NAME", help="a game controller, a part of its name"
    )
    sub.add_argument(
        "--button",
        action="append",
        default=[],
        metavar="WHAT=NUMBER",
        help="a button's work, such as talk=0 or done=1; give it once a button",
    )
    sub.add_argument(
        "--clock",
        choices=("real", "fast"),
        default="real",
        help="fast: a virtual clock on which speech takes its real length",
    )
    sub.add_argument("--logbook", default="", metavar="FILE", help="where the run is stored")
    sub.add_argument(
        "--tablet",
        choices=("here", "network"),
        default="",
        help="show the running list in browsers too: on this machine, or on your network",
    )
    sub.add_argument(
        "--tablet-port", type=int, default=47811, metavar="NUMBER", help="where browsers find it"
    )
    add_feed_options(sub)


def _add_crew(commands: _Commands) -> None:
    sub = _add(
        commands,
        "crew",
        "fly one run with others, each at a machine of their own",
        "runner crew open --name Anna --role 'pilot flying'",
        "runner crew join --name Ben --code '4821 472 918'",
        "runner crew join 192.168.1.20 --observe --code '4821 472 918'",
        "runner crew open --through mqtts://broker.example",
        "runner crew join --resume",
    )
    parts = sub.add_subparsers(title="commands", metavar="COMMAND", required=True)
    opens = _add(
        parts,
        "open",
        "begin a run that others can join (saying 'crew code' shows its code again)",
        "runner crew open --phase before-takeoff",
        "runner crew open --resume",
    )
    back = "go back to the crew's run that was broken off here, from this machine's logbook"
    _add_what(opens).add_argument("--resume", action="store_true", help=back)
    opens.add_argument("--address", default="", metavar="HOST", help="listen there alone")
    opens.add_argument("--port", type=int, default=None, metavar="NUMBER", help="listen there")
    _add_crewing(opens)
    opens.set_defaults(command=_crew_open, verb="open")
    joins = _add(
        parts,
        "join",
        "join a run by its code",
        "runner crew join --code '4821 472 918'",
        "runner crew join --resume",
    )
    joins.add_argument(
        "address", nargs="?", default="", metavar="ADDRESS", help="where it was opened, if known"
    )
    how = joins.add_mutually_exclusive_group(required=True)
    how.add_argument("--code", default="", metavar="CODE", help="the ten digits told to you")
    how.add_argument("--resume", action="store_true", help=back)
    joins.add_argument("--observe", action="store_true", help="hear and see, answer nothing")
    joins.add_argument(
        "--wait", type=float, default=60.0, metavar="SECONDS", help="how long for an answer"
    )
    _add_crewing(joins)
    joins.set_defaults(command=_crew_join, verb="join")


def _add_crewing(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("--name", default="", metavar="NAME", help="what the others call you")
    sub.add_argument(
        "--role",
        action="append",
        default=[],
        metavar="ROLE",
        help="a role of the aircraft that you take; may be given several times",
    )
    sub.add_argument(
        "--through",
        default="",
        metavar="URL",
        help="meet through an MQTT broker that you trust to pass messages on: mqtts://host",
    )
    _add_how(sub)


def _add_drill(commands: _Commands) -> None:
    sub = _add(
        commands,
        "drill",
        "practise answers, flows, figures and memory items; what is due comes first",
        "runner drill",
        "runner drill --kind numbers --minutes 5",
        "runner drill --kind memory --list engine-fire",
        "runner drill --due",
    )
    add_drill(sub, _add_set)
    sub.set_defaults(command=_drill)


def _add_feed(commands: _Commands) -> None:
    sub = _add(
        commands,
        "feed",
        "show what a simulator sends, and tie its names to readings",
        "runner feed watch udp://127.0.0.1:49000",
        "runner feed map udp://127.0.0.1:49000 --save my-simulator.yaml",
    )
    add_feed(sub.add_subparsers(title="commands", metavar="COMMAND", required=True))


def _add_debrief(commands: _Commands) -> None:
    from runner.commands.debrief import add_debrief

    sub = _add(
        commands,
        "debrief",
        "look back on a run: times, misses, interruptions, advice; compare runs, see trends",
        "runner debrief",
        "runner debrief 12 --html debrief.html",
        "runner debrief --compare 11",
        "runner debrief --trends",
    )
    add_debrief(sub)


def _add_logbook(commands: _Commands) -> None:
    from runner.commands.logbook import add_logbook

    sub = _add(
        commands,
        "logbook",
        "list, export, import, check and delete what was flown and drilled",
        "runner logbook list",
        "runner logbook export everything.jsonl",
        "runner logbook check",
        "runner logbook forget --run 12",
    )
    add_logbook(sub.add_subparsers(title="commands", metavar="COMMAND", required=True))


def _add_card(commands: _Commands) -> None:
    sub = _add(
        commands,
        "card",
        "print the take-off and landing data card: every figure for given inputs",
        "runner card",
        "runner card --set gross_weight=74310lb --set outside_temperature=28degC",
        "runner card --metar 'XXXX 121250Z 24015G25KT 9999 SCT030 18/11 Q1009'",
        "runner card --why rotate_speed --why decision_speed",
        "runner card --format json",
        "runner card --plot today.png",
    )
    sub.add_argument(
        "aircraft",
        nargs="?",
        default="whimbrel-four-aircraft",
        metavar="AIRCRAFT",
        help="an aircraft file, or the name of a shipped one (whimbrel-four-aircraft, "
        "sanderling-aircraft)",
    )
    _add_set(sub)
    sub.add_argument(
        "--format",
        choices=("table", "json", "csv"),
        default="table",
        help="csv: one row a figure",
    )
    sub.add_argument(
        "--why",
        action="append",
        default=[],
        metavar="NAME",
        help="instead of the card, show how that figure came about; may be given several times",
    )
    sub.add_argument(
        "--chart",
        metavar="NAME",
        help="instead of the card, print one of the aircraft's pictures as text",
    )
    sub.add_argument(
        "--plot",
        metavar="FILE",
        help="instead of the card, draw the aircraft's pictures with today's point into a .png "
        "or .svg file",
    )
    sub.set_defaults(command=_card)


def _add_check(commands: _Commands) -> None:
    sub = _add(
        commands,
        "check",
        "print errors and advice for procedures, aircraft and voice files, and feed maps",
        "runner check my-airliner.yaml",
    )
    sub.add_argument("files", nargs="+", metavar="FILE")
    sub.set_defaults(command=_check)


def _add_doctor(commands: _Commands) -> None:
    sub = _add(
        commands,
        "doctor",
        "say what works on this machine, what does not, and what mends it",
        "runner doctor",
    )
    sub.set_defaults(command=_doctor)


def _add_voice(commands: _Commands) -> None:
    from runner.commands.voice import add_voice

    sub = _add(
        commands,
        "voice",
        "list recognisers and voices, try one, record your own, install a model",
        "runner voice list",
        "runner voice try 'Flaps 20' --voice icao",
        "runner voice enrol --phrases 60",
        "runner voice install my-model.zip",
    )
    add_voice(sub.add_subparsers(title="commands", metavar="COMMAND", required=True))


def _add_set(sub: argparse.ArgumentParser) -> None:
    sub.add_argument(
        "--set",
        action="append",
        default=[],
        metavar="NAME=VALUE",
        help="an input of the aircraft, with a unit: gross_weight=74310lb",
    )
    sub.add_argument(
        "--metar",
        metavar="REPORT",
        help="wind, temperature, dew point and altimeter setting from a METAR; --set wins over it",
    )


def _fly(arguments: argparse.Namespace) -> int:
    from runner.commands.fly import fly

    return fly(arguments)


def _crew_open(arguments: argparse.Namespace) -> int:
    from runner.commands.crew import open_crew

    return open_crew(arguments)


def _crew_join(arguments: argparse.Namespace) -> int:
    from runner.commands.crew import join_crew

    return join_crew(arguments)


def _drill(arguments: argparse.Namespace) -> int:
    from runner.commands.drill import drill

    return drill(arguments)


def _card(arguments: argparse.Namespace) -> int:
    from runner.commands.card import card

    return card(arguments)


def _check(arguments: argparse.Namespace) -> int:
    from runner.commands.check import check

    return check(arguments)


def _doctor(arguments: argparse.Namespace) -> int:
    from runner.commands.doctor import doctor

    return doctor(arguments)
