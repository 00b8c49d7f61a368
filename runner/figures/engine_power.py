"""The power of a four-stroke aircraft piston engine, as its torque meter and charts tell it.

Power is BMEP times displacement times RPM over 792,000 (hp, psi, cubic inches; FAA-H-8083-32,
*Aviation Maintenance Technician Handbook, Powerplant*, chapter 1, from P L A N K over 33,000).
Functions take and give plain numbers in the units of their names; each raises
CalculationError where its arguments are impossible.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType

from runner.figures.air import KELVIN
from runner.figures.formula import Formula
from runner.figures.tables import CalculationError

POWER_CONSTANT = 792_000.0
"""psi in3 rpm in a horsepower of a four-stroke engine: 2 turns, 12 in and 33,000 ft lbf/min."""

TORQUE_CONSTANT = 33_000.0 / (2 * math.pi)
"""lbf ft rpm in a horsepower."""


def _above_zero(**values: float) -> None:
    for name, value in values.items():
        if not 0 < value < math.inf:
            raise CalculationError(f"{name.replace('_', ' ')} is above 0, not {value:g}")


def _zero_or_more(**values: float) -> None:
    for name, value in values.items():
        if not 0 <= value < math.inf:
            raise CalculationError(f"{name.replace('_', ' ')} is 0 or more, not {value:g}")


def _kelvin(name: str, temperature_c: float) -> float:
    if not -80 <= temperature_c <= 120:
        raise CalculationError(f"{name} is from -80 to 120 degC, not {temperature_c:g} degC")
    return temperature_c + KELVIN


def horsepower(bmep_psi: float, rpm: float, displacement_in3: float) -> float:
    """Brake horsepower of a brake mean effective pressure in psi, RPM and displacement in in3."""
    _zero_or_more(BMEP=bmep_psi, RPM=rpm)
    _above_zero(displacement=displacement_in3)
    return bmep_psi * displacement_in3 * rpm / POWER_CONSTANT


def bmep(power_hp: float, rpm: float, displacement_in3: float) -> float:
    """Brake mean effective pressure in psi of a power in hp at an RPM."""
    _zero_or_more(power=power_hp)
    _above_zero(RPM=rpm, displacement=displacement_in3)
    return power_hp * POWER_CONSTANT / (displacement_in3 * rpm)


def rpm_for_power(power_hp: float, bmep_psi: float, displacement_in3: float) -> float:
    """RPM at which a BMEP in psi gives a power in hp."""
    _zero_or_more(power=power_hp)
    _above_zero(BMEP=bmep_psi, displacement=displacement_in3)
    return power_hp * POWER_CONSTANT / (displacement_in3 * bmep_psi)


def torque(power_hp: float, rpm: float) -> float:
    """Torque at the crankshaft in lbf ft of a power in hp at an RPM."""
    _zero_or_more(power=power_hp)
    _above_zero(RPM=rpm)
    return power_hp * TORQUE_CONSTANT / rpm


def bmep_of_torque(torque_lbf_ft: float, displacement_in3: float) -> float:
    """BMEP in psi of a crankshaft torque in lbf ft."""
    _zero_or_more(torque=torque_lbf_ft)
    _above_zero(displacement=displacement_in3)
    return torque_lbf_ft * TORQUE_CONSTANT**-1 * POWER_CONSTANT / displacement_in3


def bmep_of_torque_pressure(torque_pressure_psi: float, constant: float) -> float:
    """BMEP in psi shown by a torque meter's oil pressure in psi: times the meter's constant."""
    _zero_or_more(torque_pressure=torque_pressure_psi)
    _above_zero(torque_meter_constant=constant)
    return torque_pressure_psi * constant


def displacement(bore_in: float, stroke_in: float, cylinders: float) -> float:
    """Displacement in in3 of a bore and a stroke in inches."""
    _above_zero(bore=bore_in, stroke=stroke_in, cylinders=cylinders)
    return math.pi / 4 * bore_in**2 * stroke_in * cylinders


def chart_pressure(
    chart_inhg: float, chart_temperature_c: float, carburettor_temperature_c: float
) -> float:
    """Manifold pressure in inHg for the same power off a chart's carburettor air temperature.

    At constant power, within one blower gear and below full throttle, it goes with the
    square root of the carburettor air's absolute temperature: the charge weighs as much when
    pressure over the root of temperature stays (C. F. Taylor, *The Internal Combustion
    Engine in Theory and Practice*, volume 1, chapter 12, from memory).
    """
    _above_zero(manifold_pressure=chart_inhg)
    hot = _kelvin("carburettor air", carburettor_temperature_c)
    return chart_inhg * math.sqrt(hot / _kelvin("the chart's carburettor air", chart_temperature_c))


def power_off_chart(
    power_hp: float, chart_temperature_c: float, carburettor_temperature_c: float
) -> float:
    """Power in hp at one manifold pressure where the carburettor air is not the chart's."""
    _zero_or_more(power=power_hp)
    cold = _kelvin("the chart's carburettor air", chart_temperature_c)
    return power_hp * math.sqrt(cold / _kelvin("carburettor air", carburettor_temperature_c))


def dry_air_share(manifold_inhg: float, vapour_inhg: float) -> float:
    """The share of the charge that is dry air: water vapour takes its place and burns nothing.

    Vapour is taken to keep its share of the pressure through the blower; ``vapour_inhg`` is
    its pressure at the pressure of ``manifold_inhg`` (ambient with ambient).
    """
    _above_zero(pressure=manifold_inhg)
    if not 0 <= vapour_inhg < manifold_inhg:
        raise CalculationError(
            f"vapour pressure is from 0 to below {manifold_inhg:g} inHg, not {vapour_inhg:g} inHg"
        )
    return 1 - vapour_inhg / manifold_inhg


def fuel_flow(power_hp: float, specific_consumption: float) -> float:
    """Fuel flow in lb/h of a power in hp by a specific consumption in lb/hp/h."""
    _zero_or_more(power=power_hp)
    _above_zero(specific_consumption=specific_consumption)
    return power_hp * specific_consumption


def leaned_bmep(best_power_psi: float, drop: float) -> float:
    """BMEP in psi to lean to: that of best power less a drop, given as a share of it."""
    _zero_or_more(BMEP=best_power_psi)
    if not 0 <= drop < 0.5:
        raise CalculationError(f"a BMEP drop is from 0 to below 50 %, not {drop * 100:g} %")
    return best_power_psi * (1 - drop)


def least_descent_pressure(rpm: float) -> float:
    """Least manifold pressure in inHg for an RPM with the engine driving: common practice,
    an inch for each hundred RPM, so that the propeller does not drive the engine."""
    _above_zero(RPM=rpm)
    return rpm / 100


_POWER = "FAA-H-8083-32, chapter 1: BMEP x displacement x RPM / 792,000"
_ROOT = "square root of the carburettor air's absolute temperature, at constant power"

FORMULAS: Mapping[str, Formula] = MappingProxyType(
    {
        "horsepower": Formula(
            (("BMEP", "psi"), ("RPM", "rpm"), ("displacement", "in^3")), "hp", horsepower, _POWER
        ),
        "bmep_of_power": Formula(
            (("power", "hp"), ("RPM", "rpm"), ("displacement", "in^3")), "psi", bmep, _POWER
        ),
        "bmep_of_torque_pressure": Formula(
            (("torque pressure", "psi"), ("torque meter constant", "")),
            "psi",
            bmep_of_torque_pressure,
            "torque meter: oil pressure times its constant",
        ),
        "chart_pressure": Formula(
            (
                ("chart manifold pressure", "inHg"),
                ("chart carburettor temperature", "degC"),
                ("carburettor temperature", "degC"),
            ),
            "inHg",
            chart_pressure,
            _ROOT,
        ),
        "power_off_chart": Formula(
            (
                ("power", "hp"),
                ("chart carburettor temperature", "degC"),
                ("carburettor temperature", "degC"),
            ),
            "hp",
            power_off_chart,
            _ROOT,
        ),
        "dry_air_share": Formula(
            (("pressure", "inHg"), ("vapour pressure", "inHg")),
            "",
            dry_air_share,
            "partial pressure of dry air",
        ),
        "fuel_flow": Formula(
            (("power", "hp"), ("specific consumption", "lb/hp/h")),
            "lb/h",
            fuel_flow,
            "specific consumption times power",
        ),
        "leaned_bmep": Formula(
            (("best-power BMEP", "psi"), ("drop", "")), "psi", leaned_bmep, "BMEP less its drop"
        ),
        "least_descent_pressure": Formula(
            (("RPM", "rpm"),),
            "inHg",
            least_descent_pressure,
            "common practice: an inch for each hundred RPM",
        ),
    }
)
