"""The power of a four-stroke aircraft piston engine: BMEP, torque, efficiency, fuel.

Power is P L A N K over 33,000 (FAA-H-8083-32, *Aviation Maintenance Technician
Handbook—Powerplant*, chapter 1), which for a four-stroke engine is mean effective pressure
times displacement times RPM over 792,000 (hp, psi, in3). What manifold pressure has to do
with it stands in ``runner.figures.engine_limits``, whose calculations ``FORMULAS`` gathers
with these.

Functions take and give plain numbers in the units of their names. Each raises
CalculationError where its arguments are impossible.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType

from runner.figures import engine_limits
from runner.figures.formula import Formula
from runner.figures.ranges import above_zero, within, zero_or_more
from runner.figures.tables import CalculationError

POWER_CONSTANT = 792_000.0
"""psi in3 rpm in a horsepower of a four-stroke engine: 2 turns, 12 in and 33,000 ft lbf/min."""

TORQUE_CONSTANT = 33_000.0 / (2 * math.pi)
"""lbf ft rpm in a horsepower, about 5,252."""

HEAT_CONSTANT = 33_000.0 * 60 / 778.169
"""Btu/h in a horsepower: 778.169 ft lbf in a Btu."""


def horsepower(bmep_psi: float, rpm: float, displacement_in3: float) -> float:
    """Power in hp of a mean effective pressure in psi at an RPM.

    Of brake mean effective pressure the brake horsepower, of an indicated one the indicated,
    of that lost to friction the friction horsepower.
    """
    zero_or_more("mean effective pressure", bmep_psi, "psi")
    zero_or_more("RPM", rpm)
    above_zero("displacement", displacement_in3, "in^3")
    return bmep_psi * displacement_in3 * rpm / POWER_CONSTANT


def bmep(power_hp: float, rpm: float, displacement_in3: float) -> float:
    """Mean effective pressure in psi of a power in hp at an RPM."""
    zero_or_more("power", power_hp, "hp")
    above_zero("RPM", rpm)
    above_zero("displacement", displacement_in3, "in^3")
    return power_hp * POWER_CONSTANT / (displacement_in3 * rpm)


def rpm_for_power(power_hp: float, bmep_psi: float, displacement_in3: float) -> float:
    """RPM at which a BMEP in psi gives a power in hp."""
    zero_or_more("power", power_hp, "hp")
    above_zero("BMEP", bmep_psi, "psi")
    above_zero("displacement", displacement_in3, "in^3")
    return power_hp * POWER_CONSTANT / (displacement_in3 * bmep_psi)


def torque(power_hp: float, rpm: float) -> float:
    """Torque in lbf ft at the shaft that turns at an RPM, of a power in hp."""
    zero_or_more("power", power_hp, "hp")
    above_zero("RPM", rpm)
    return power_hp * TORQUE_CONSTANT / rpm


def power_of_torque(torque_lbf_ft: float, rpm: float) -> float:
    """Power in hp of a torque in lbf ft at an RPM of the same shaft."""
    zero_or_more("torque", torque_lbf_ft, "lbf*ft")
    zero_or_more("RPM", rpm)
    return torque_lbf_ft * rpm / TORQUE_CONSTANT


def bmep_of_torque(torque_lbf_ft: float, displacement_in3: float) -> float:
    """BMEP in psi of a crankshaft torque in lbf ft."""
    zero_or_more("torque", torque_lbf_ft, "lbf*ft")
    above_zero("displacement", displacement_in3, "in^3")
    return torque_lbf_ft * POWER_CONSTANT / (TORQUE_CONSTANT * displacement_in3)


def torque_of_bmep(bmep_psi: float, displacement_in3: float) -> float:
    """Crankshaft torque in lbf ft of a BMEP in psi."""
    zero_or_more("BMEP", bmep_psi, "psi")
    above_zero("displacement", displacement_in3, "in^3")
    return bmep_psi * displacement_in3 * TORQUE_CONSTANT / POWER_CONSTANT


def bmep_of_torque_pressure(torque_pressure_psi: float, constant: float) -> float:
    """BMEP in psi shown by a torque meter's oil pressure in psi, times the meter's constant.

    The constant is the maker's: the oil pressure balances a part of the torque that the
    reduction gear and the meter's pistons set.
    """
    zero_or_more("torque pressure", torque_pressure_psi, "psi")
    above_zero("the torque meter's constant", constant)
    return torque_pressure_psi * constant


def torque_pressure(bmep_psi: float, constant: float) -> float:
    """Oil pressure in psi that a torque meter shows at a BMEP in psi."""
    zero_or_more("BMEP", bmep_psi, "psi")
    above_zero("the torque meter's constant", constant)
    return bmep_psi / constant


def power_of_torque_pressure(torque_pressure_psi: float, rpm: float, constant: float) -> float:
    """Power in hp of a torque meter's oil pressure in psi: times RPM over its constant.

    This constant is the one that a maker gives for power, psi rpm in a horsepower.
    """
    zero_or_more("torque pressure", torque_pressure_psi, "psi")
    zero_or_more("RPM", rpm)
    above_zero("the torque meter's power constant", constant)
    return torque_pressure_psi * rpm / constant


def displacement(bore_in: float, stroke_in: float, cylinders: float) -> float:
    """Displacement in in3 of a bore and a stroke in inches."""
    above_zero("bore", bore_in, "in")
    above_zero("stroke", stroke_in, "in")
    above_zero("number of cylinders", cylinders)
    return math.pi / 4 * bore_in**2 * stroke_in * cylinders


def compression_ratio(swept_in3: float, clearance_in3: float) -> float:
    """Volume of a cylinder with the piston at the bottom over that with it at the top."""
    above_zero("swept volume", swept_in3, "in^3")
    above_zero("clearance volume", clearance_in3, "in^3")
    return (swept_in3 + clearance_in3) / clearance_in3


def indicated_horsepower(
    imep_psi: float, stroke_in: float, bore_in: float, rpm: float, cylinders: float
) -> float:
    """Indicated horsepower, P L A N K over 33,000, N being half of the RPM."""
    return horsepower(imep_psi, rpm, displacement(bore_in, stroke_in, cylinders))


def friction_horsepower(indicated_hp: float, brake_hp: float) -> float:
    """Horsepower that the engine itself takes: indicated less brake."""
    zero_or_more("brake horsepower", brake_hp, "hp")
    if not brake_hp <= indicated_hp < math.inf:
        raise CalculationError(
            f"indicated horsepower must be {brake_hp:g} hp, the brake horsepower, or more, "
            f"not {indicated_hp:g} hp"
        )
    return indicated_hp - brake_hp


def mechanical_efficiency(indicated_hp: float, brake_hp: float) -> float:
    """The share of the indicated horsepower that reaches the shaft."""
    above_zero("indicated horsepower", indicated_hp, "hp")
    return 1 - friction_horsepower(indicated_hp, brake_hp) / indicated_hp


def brake_thermal_efficiency(power_hp: float, flow_pph: float, heat_btu_lb: float) -> float:
    """The share of the fuel's heat that becomes work at the shaft.

    ``heat_btu_lb`` is the fuel's lower heating value in Btu/lb. Raises CalculationError
    where more work would come out than heat goes in.
    """
    zero_or_more("power", power_hp, "hp")
    above_zero("fuel flow", flow_pph, "lb/h")
    above_zero("heating value", heat_btu_lb, "Btu/lb")
    return within(
        "thermal efficiency", power_hp * HEAT_CONSTANT / (flow_pph * heat_btu_lb), 0.0, 1.0
    )


def fuel_flow(power_hp: float, specific_consumption: float) -> float:
    """Fuel flow in lb/h of a power in hp by a specific consumption in lb/hp/h.

    Rich and lean differ by their specific consumption, which is the engine's datum.
    """
    zero_or_more("power", power_hp, "hp")
    above_zero("specific consumption", specific_consumption, "lb/hp/h")
    return power_hp * specific_consumption


def specific_consumption(flow_pph: float, power_hp: float) -> float:
    """Specific consumption in lb/hp/h of a fuel flow in lb/h at a power in hp."""
    zero_or_more("fuel flow", flow_pph, "lb/h")
    above_zero("power", power_hp, "hp")
    return flow_pph / power_hp


def fuel_flow_volume(flow_pph: float, density_lb_gal: float) -> float:
    """Fuel flow in US gallons an hour of one in lb/h, by the fuel's density in lb/gal."""
    zero_or_more("fuel flow", flow_pph, "lb/h")
    return flow_pph / within("fuel density", density_lb_gal, 4.0, 9.0, "lb/gal")


def leaned_bmep(best_power_psi: float, drop: float) -> float:
    """BMEP in psi to lean to: that of best power less a drop, given as a share of it.

    At one RPM and manifold pressure the mixture is leaned until the torque meter shows it.
    What fuel that saves is the engine's datum: no law of fuel against BMEP is assumed here.
    """
    zero_or_more("BMEP at best power", best_power_psi, "psi")
    return best_power_psi * (1 - within("a BMEP drop", drop * 100, 0.0, 50.0, "%") / 100)


def bmep_after_drop(best_power_psi: float, drop_psi: float) -> float:
    """BMEP in psi to lean to where the drop from best power is given in psi."""
    zero_or_more("BMEP at best power", best_power_psi, "psi")
    return best_power_psi - within("a BMEP drop", drop_psi, 0.0, best_power_psi / 2, "psi")


_POWER = "FAA-H-8083-32, chapter 1: BMEP x displacement x RPM / 792,000"
_TORQUE = "FAA-H-8083-32, chapter 1: 2 pi x torque x RPM / 33,000"
_METER = "torque meter: oil pressure times its constant"
_SPECIFIC = "specific consumption times power"
_BMEP, _RPM, _SIZE = ("BMEP", "psi"), ("RPM", "rpm"), ("displacement", "in^3")
_HP, _FLOW = ("power", "hp"), ("fuel flow", "lb/h")

FORMULAS: Mapping[str, Formula] = MappingProxyType(
    {
        "horsepower": Formula((_BMEP, _RPM, _SIZE), "hp", horsepower, _POWER),
        "bmep_of_power": Formula((_HP, _RPM, _SIZE), "psi", bmep, _POWER),
        "rpm_for_power": Formula((_HP, _BMEP, _SIZE), "rpm", rpm_for_power, _POWER),
        "torque_of_power": Formula((_HP, _RPM), "lbf*ft", torque, _TORQUE),
        "power_of_torque": Formula((("torque", "lbf*ft"), _RPM), "hp", power_of_torque, _TORQUE),
        "bmep_of_torque": Formula((("torque", "lbf*ft"), _SIZE), "psi", bmep_of_torque, _POWER),
        "bmep_of_torque_pressure": Formula(
            (("torque pressure", "psi"), ("torque meter constant", "")),
            "psi",
            bmep_of_torque_pressure,
            _METER,
        ),
        "torque_pressure": Formula(
            (_BMEP, ("torque meter constant", "")), "psi", torque_pressure, _METER
        ),
        "piston_displacement": Formula(
            (("bore", "in"), ("stroke", "in"), ("cylinders", "")),
            "in^3",
            displacement,
            "FAA-H-8083-32, chapter 1: area of a piston x stroke x cylinders",
        ),
        "fuel_flow": Formula(
            (_HP, ("specific consumption", "lb/hp/h")), "lb/h", fuel_flow, _SPECIFIC
        ),
        "specific_consumption": Formula((_FLOW, _HP), "lb/hp/h", specific_consumption, _SPECIFIC),
        "fuel_flow_volume": Formula(
            (_FLOW, ("fuel density", "lb/gal")), "gal/h", fuel_flow_volume, "flow over density"
        ),
        "leaned_bmep": Formula(
            (("best-power BMEP", "psi"), ("drop", "")), "psi", leaned_bmep, "BMEP less its drop"
        ),
        "bmep_after_drop": Formula(
            (("best-power BMEP", "psi"), ("drop", "psi")),
            "psi",
            bmep_after_drop,
            "BMEP less its drop",
        ),
        **engine_limits.FORMULAS,
    }
)
