"""``python -m runner.simulation``: fly the Whimbrel Four and send its readings."""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

from runner.errors import RunnerError

if TYPE_CHECKING:
    from runner.simulation.flight import Failure

EXAMPLE = """example:
  python -m runner.simulation --port 49005 --set gross_weight=80000lb --fail-engine 3@V1

Standard input takes lines NAME VALUE, as the autopilot is told: brake_release 1,
climb_manifold_pressure 38.2, reject 1. Without --port the lines go to standard output.
An invented aircraft: for simulation and training only, not for flight."""

_FAILURE = re.compile(r"(\d)@(?:(V1)|(\d+(?:\.\d+)?)(ft|kt)?)", re.I)
BEFORE_DECISION = 5.0
"""Knots below the decision speed at which a take-off is rejected where no speed is given."""


def main(argv: Sequence[str] | None = None) -> int:
    """Fly; the exit status: 0, 2 where the input was wrong, 3 where JSBSim is missing."""
    arguments = _parser().parse_args(argv)
    try:
        return _fly(arguments)
    except RunnerError as error:
        print(error, file=sys.stderr)
        return error.status
    except (KeyboardInterrupt, BrokenPipeError):
        return 0


def read_failure(text: str) -> Failure:
    """``3@V1``, ``3@80`` or ``3@80kt``, ``3@500ft``. Raises RunnerError."""
    from runner.simulation.flight import Failure

    found = _FAILURE.fullmatch(text.strip())
    if found is None:
        raise RunnerError(f"--fail-engine {text}: write 3@V1, 3@80kt or 3@500ft")
    number = None if found[3] is None else float(found[3])
    if found[4] and found[4].lower() == "ft":
        return Failure(int(found[1]), height=number)
    return Failure(int(found[1]), speed=number)


def _fly(arguments: argparse.Namespace) -> int:
    from runner.checklist.load import load_aircraft
    from runner.figures.given import read_given
    from runner.simulation.flight import SimulatedFlight
    from runner.simulation.sender import Told, send_flight, to_output, to_port

    if not 1 <= arguments.rate <= 120:
        raise RunnerError(f"--rate must be 1 to 120 a second, not {arguments.rate:g}")
    if not 1 <= (arguments.port or 1) <= 65535:
        raise RunnerError(f"--port must be 1 to 65535, not {arguments.port}")
    aircraft = load_aircraft(arguments.aircraft)
    pairs = [pair for text in arguments.set for pair in text.split(",")]
    failure = read_failure(arguments.fail_engine) if arguments.fail_engine else None
    flight = SimulatedFlight(
        aircraft,
        read_given(aircraft, pairs),
        hold=_hold(arguments.hold),
        failure=failure,
        seed=arguments.seed,
    )
    if arguments.reject is not None:
        decision = flight.told["decision_speed"]
        flight.reject_at(
            decision - BEFORE_DECISION if arguments.reject == "" else _speed(arguments.reject)
        )
    send = to_port(arguments.host, arguments.port) if arguments.port else to_output
    send_flight(flight, send, arguments.rate, arguments.seconds, arguments.fast, Told())
    if arguments.log:
        for one in flight.events:
            print(f"{one.sim_seconds:8.2f} {one.what}", file=sys.stderr)
    return 0


def _hold(text: str) -> float | None:
    if text == "told":
        return None
    try:
        seconds = float(text)
    except ValueError:
        seconds = -1.0
    if not 0 <= seconds <= 86400:
        raise RunnerError(f"--hold {text}: write seconds, or 'told'")
    return seconds


def _speed(text: str) -> float:
    try:
        knots = float(text.lower().removesuffix("kt"))
    except ValueError:
        knots = -1.0
    if not 0 < knots < 300:
        raise RunnerError(f"--reject {text}: write a speed in knots, as 80")
    return knots


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m runner.simulation",
        description="Fly the invented Whimbrel Four from the brakes to its cruise.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add = parser.add_argument
    add("--port", type=int, help="UDP port to send to (default: standard output)")
    add("--host", default="127.0.0.1", help="where to send to (default: this machine)")
    add("--rate", type=float, default=50, help="records a second (default: 50)")
    add("--fast", action="store_true", help="as fast as it can be worked out")
    add("--hold", default="60", help="seconds on the brakes, or 'told' (default: 60)")
    add("--fail-engine", metavar="N@V1", help="engine N fails at V1, a speed or a height")
    add("--reject", nargs="?", const="", metavar="SPEED", help="reject the take-off there")
    add("--seconds", type=float, default=7200, help="how long to fly (default: 7200)")
    add("--seed", type=int, default=0, help="for gusts and the rigging of the levers")
    add("--aircraft", default="whimbrel-four-aircraft", help="aircraft file")
    add("--set", action="append", default=[], metavar="NAME=VALUE", help="an input")
    add("--log", action="store_true", help="at the end, what happened, on standard error")
    return parser


if __name__ == "__main__":
    sys.exit(main())
