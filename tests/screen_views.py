"""Moments of an invented mail run in the Whimbrel Four, as views for the screens' tests."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from runner.engine.view import (
    FigureView,
    HeardView,
    ItemStatus,
    ItemView,
    ListView,
    PhaseView,
    View,
)

PHASE_NAMES = (
    "Preflight",
    "Before start",
    "Engine start",
    "After start",
    "Taxi",
    "Run-up",
    "Before take-off",
    "Take-off",
    "After take-off",
    "Climb",
    "Cruise",
    "Descent",
    "Approach",
    "Before landing",
    "Landing",
    "After landing",
    "Shutdown",
    "Secure",
)

FIGURES = (
    FigureView("gross_weight", "gross weight", "74300 lb"),
    FigureView("takeoff_rpm", "take-off RPM", "2800 rpm"),
    FigureView("takeoff_manifold_pressure", "take-off manifold pressure", "57.5 inHg"),
    FigureView("minimum_takeoff_bmep", "minimum take-off BMEP", "232 psi"),
    FigureView("decision_speed", "decision speed", "97 kt"),
    FigureView("rotate_speed", "rotation speed", "104 kt"),
    FigureView("safety_speed", "take-off safety speed", "113 kt"),
    FigureView("meto_manifold_pressure", "METO manifold pressure", "48.0 inHg"),
)

BEFORE_TAKEOFF = (
    ("Runway surface", "wet runway", "", True),
    ("Flaps", "twenty degrees", "", True),
    ("Trim", "three sets for take-off", "", False),
    ("Flight controls", "free and correct", "", True),
    ("Mixtures", "auto rich", "flight engineer", True),
    ("Blowers", "low blower", "flight engineer", True),
    ("Boost pumps", "high boost", "flight engineer", True),
    ("Cowl flaps", "half open", "flight engineer", False),
    ("Carburettor heat", "full cold", "flight engineer", True),
    ("Anti-detonant injection", "four armed", "flight engineer", True),
    ("Automatic feathering", "armed and green", "flight engineer", True),
    ("Take-off RPM", "2800 rpm", "flight engineer", False),
    ("Take-off manifold pressure", "57.5 inHg", "flight engineer", True),
    ("Minimum BMEP", "232 psi", "flight engineer", False),
    ("Decision speed", "97 kt", "captain", True),
    ("Rotation speed", "104 kt", "captain", True),
)

FIRE = (
    ("Fire warning", "bell silenced", "captain", False),
    ("Throttle, engine 3", "throttle closed", "captain", True),
    ("Feather button, engine 3", "pressed and feathering", "flight engineer", True),
    ("Mixture, engine 3", "idle cut off", "flight engineer", True),
    ("Fuel selector, engine 3", "selector off", "flight engineer", True),
    ("Oil shut-off, engine 3", "shut off", "flight engineer", True),
    ("Cowl flaps, engine 3", "fully closed", "flight engineer", False),
    ("First bottle, engine 3", "discharged", "flight engineer", True),
    ("Fire", "light out", "flight engineer", True),
)

CALLABLE = (
    ("load-and-weather", "Load and weather", False),
    ("walk-round", "Walk round", False),
    ("before-start", "Before start", False),
    ("taxi", "Taxi", False),
    ("run-up", "Run-up", False),
    ("before-takeoff", "Before take-off", False),
    ("climb", "Climb power", False),
    ("descent", "Descent", False),
    ("before-landing", "Before landing", False),
    ("rejected-takeoff", "Rejected take-off", True),
    ("engine-failure-after-decision", "Engine failure after decision speed", True),
    ("engine-fire", "Engine fire", True),
    ("propeller-overspeed", "Propeller overspeed", True),
    ("carburettor-ice", "Carburettor ice", True),
    ("electrical-failure", "Electrical failure", True),
    ("hydraulic-failure", "Hydraulic failure", True),
    ("unsafe-gear", "Unsafe gear", True),
)


def phases(current: int) -> tuple[PhaseView, ...]:
    """The phases, with the one at ``current`` being flown."""

    def status(number: int) -> Literal["done", "current", "ahead"]:
        if number == current:
            return "current"
        return "done" if number < current else "ahead"

    return tuple(
        PhaseView(name.lower().replace(" ", "-"), name, status(number))
        for number, name in enumerate(PHASE_NAMES)
    )


def items(
    rows: tuple[tuple[str, str, str, bool], ...],
    current: int,
    others: dict[int, ItemStatus] | None = None,
    memory: int = 0,
) -> tuple[ItemView, ...]:
    """Items of a list, done as far as the one at ``current``."""
    result = []
    for number, (challenge, response, who, critical) in enumerate(rows):
        status: ItemStatus = "waiting"
        if number < current:
            status = "done"
        elif number == current:
            status = "current"
        status = (others or {}).get(number, status)
        id_ = challenge.lower().replace(" ", "-")
        result.append(
            ItemView(
                id_, challenge, response, status, critical=critical, memory=number < memory, who=who
            )
        )
    return tuple(result)


def mid_list() -> View:
    """Five items done, blowers asked for, one item left open."""
    rows = items(BEFORE_TAKEOFF, 5, {2: "left open"})
    blowers = replace(rows[5], note="The high gear is never used for take-off.")
    rows = (*rows[:5], blowers, *rows[6:])
    return View(
        aircraft="Whimbrel Four",
        procedures="Whimbrel Four, mail run",
        phases=phases(6),
        phase="Before take-off",
        list=ListView("before-takeoff", "Before take-off", "challenge and response", rows),
        current=blowers,
        prompt="Blowers?",
        activity="asking",
        last_said="Blowers?",
        next_list="Take-off roll",
        figures=FIGURES,
        heard=HeardView("auto rich", "right", 61_200),
        callable_lists=CALLABLE,
        listening=True,
        at=62_000,
    )


def wrong_answer() -> View:
    """The wrong blower was just heard."""
    return replace(
        mid_list(),
        heard=HeardView("high blower", "asked again", 64_900),
        last_said="Expected low blower, heard high blower. Blowers?",
    )


def figures_changed() -> View:
    """A new weight changed the speeds; the rotation speed is to be asked again."""
    changed = {"gross_weight": "76900 lb", "decision_speed": "99 kt", "rotate_speed": "106 kt"}
    figures = tuple(
        replace(figure, text=changed[figure.name], changed=True)
        if figure.name in changed
        else figure
        for figure in FIGURES
    )
    rows = items(BEFORE_TAKEOFF, 16, {14: "ask again", 15: "current"})
    speeds = (replace(rows[14], response="99 kt"), replace(rows[15], response="106 kt"))
    rows = (*rows[:14], *speeds)
    return replace(
        mid_list(),
        list=ListView("before-takeoff", "Before take-off", "challenge and response", rows),
        current=rows[15],
        prompt="Rotation speed?",
        figures=figures,
        heard=None,
        last_said="Rotation speed now one zero six.",
        wants_number=True,
    )


def abnormal() -> View:
    """Engine fire in the climb, over the climb list."""
    rows = items(FIRE, 3, memory=4)
    return replace(
        mid_list(),
        phases=phases(9),
        phase="Climb",
        list=ListView(
            "engine-fire", "Engine fire", "challenge and response", rows, "engine 3", True
        ),
        current=rows[3],
        prompt="Mixture, engine 3",
        last_said="Mixture, engine 3",
        interrupted=("Climb power, at Cowl flaps",),
        next_list="",
        heard=HeardView("pressed and feathering", "right", 1_204_000),
        figures=(
            FigureView("climb_speed", "climb speed", "148 kt"),
            FigureView("climb_rpm", "climb RPM", "2350 rpm"),
            FigureView("climb_manifold_pressure", "climb manifold pressure", "41.5 inHg"),
            FigureView("three_engine_climb_speed", "three-engine climb speed", "131 kt"),
        ),
    )


def choosing() -> View:
    """The runway's surface is to be chosen."""
    rows = items(BEFORE_TAKEOFF, 0)
    first = replace(rows[0], response="", who="captain")
    return replace(
        mid_list(),
        list=ListView(
            "before-takeoff", "Before take-off", "challenge and response", (first, *rows[1:])
        ),
        current=first,
        prompt="Runway surface?",
        last_said="Before take-off checklist.",
        choices=("dry", "wet", "icy"),
        heard=None,
    )


def finished_open() -> View:
    """The flight is over; two items were left open."""
    rows = items(
        (
            ("Battery", "switch off", "flight engineer", True),
            ("Gust lock", "lock in place", "captain", True),
            ("Chocks", "in place", "first officer", True),
            ("Pitot covers", "both fitted", "first officer", False),
            ("Mail and cargo", "handed over", "captain", False),
        ),
        5,
        {1: "left open", 3: "left open"},
    )
    return replace(
        mid_list(),
        phases=(
            *(replace(phase, status="done") for phase in phases(18)[:-1]),
            PhaseView("secure", "Secure", "left open"),
        ),
        list=ListView("secure", "Secure", "challenge and response", rows),
        current=None,
        prompt="",
        activity="finished",
        last_said="Secure not complete. Left open: gust lock, pitot covers.",
        next_list="",
        figures=(),
        heard=HeardView("handed over", "right", 9_100_000),
        open_items=("Gust lock: lock in place", "Pitot covers: both fitted"),
        finished=True,
        complete=False,
        listening=False,
    )


def waiting() -> View:
    """Level in the cruise, waiting for a list to be called."""
    return replace(
        mid_list(),
        phases=phases(10),
        phase="Cruise",
        list=None,
        current=None,
        prompt="Next, tank change",
        activity="waiting for a list to be called",
        last_said="Cruise power complete. Next, tank change",
        next_list="Tank change",
        heard=HeardView("log is up to date", "right", 3_000_000),
        figures=(
            FigureView("cruise_manifold_pressure", "cruise manifold pressure", "31.5 inHg"),
            FigureView("cruise_rpm", "cruise RPM", "2050 rpm"),
            FigureView("cruise_bmep", "cruise BMEP", "142 psi"),
            FigureView("cruise_fuel_flow", "fuel flow, all engines", "236 gal/h"),
        ),
    )


def offering() -> View:
    """A list is offered at its moment."""
    return replace(
        waiting(),
        phases=phases(8),
        phase="After take-off",
        activity="offering",
        prompt="Flaps up, after take-off list?",
        last_said="Flaps up, after take-off list?",
        next_list="After take-off",
        heard=None,
    )
