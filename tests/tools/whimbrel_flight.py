"""Write the engine, the propeller and the powerplant's controls of the Whimbrel Four's model.

The aircraft is invented; this is how the numbers of its flight model were worked out, kept
so that they can be worked out again.

The engine has to make of a manifold pressure the mean effective pressure that the aircraft
file's charts ask it for (``whimbrel_tables.py``): so much for each inHg, less a share of the
exhaust's pressure, less friction. JSBSim's piston engine loses the exhaust's share by its
compression ratio, and makes the charge by its volumetric efficiency.

The propeller is worked out by blade-element momentum theory (Glauert, *Airplane Propellers*,
in Durand, *Aerodynamic Theory*, volume IV, 1935) with the tip loss of Prandtl, solved for the
inflow angle as by Ning, *A simple solution method for the blade element momentum equations
with guaranteed convergence*, Wind Energy 17, 2014; beyond the stall the section follows
Viterna and Corrigan, *Fixed pitch rotor performance of large horizontal axis wind turbines*,
NASA CP-2230, 1982.

Run: ``python tests/tools/whimbrel_flight.py`` writes into ``runner/simulation/model``.
"""

from __future__ import annotations

import math
from functools import cache
from itertools import pairwise
from pathlib import Path

from whimbrel_tables import CHARGE, EXHAUST, FRICTION, GEAR, IMPELLER_DIAMETER, INTAKE
from whimbrel_tables import WORK_TIMES_EFFICIENCY as WORK

MODEL = Path(__file__).parents[2] / "runner" / "simulation" / "model"

DISPLACEMENT, BORE, STROKE, CYLINDERS = 2690.0, 5.7515, 5.7515, 18
IDLE_RPM, MAX_RPM, TAKEOFF_RPM = 600.0, 2800.0, 2650.0
COOLING = 1.6
"""Such that the heads stay below their limit on a hot day, cowl flaps open."""
RICH, FUEL_PER_HORSEPOWER = 1.2, 0.535
"""Fuel to air over the stoichiometric, and lb/h for each indicated horsepower."""
PUMPING = 3.0
"""psi that JSBSim's engine loses to the throttle before the blower, on average."""
BOOST = {"low": 2.45, "high": 3.90}
"""Pressure ratio of JSBSim's blower at MAX_RPM: not less than ours in the coldest air."""

PASCAL_IN_PSI, PASCAL_IN_INHG, CUBIC_METRES = 6894.757, 3386.389, 1.6387064e-5
STANDARD_PRESSURE, GAS, SPECIFIC_HEAT_RATIO = 101320.73, 287.3, 1.3
"""As JSBSim's engine has them."""

DIAMETER, BLADES, GEAR_RATIO = 13.0, 3, 2.25
HUB = 0.2
STATIONS = 18
TIP_PITCH = 0.75
CHORD = ((0.2, 0.070), (0.35, 0.092), (0.5, 0.102), (0.7, 0.096), (0.85, 0.076), (0.97, 0.045))
"""Chord over diameter by radius over the tip's."""
TWIST_ADVANCE = 1.05
"""The advance ratio for which the blade is twisted evenly."""
LIFT_SLOPE, ZERO_LIFT = 5.5, math.radians(-3.0)
STALL, STALL_BELOW = math.radians(11.0), math.radians(9.0)
PROFILE_DRAG, LIFT_DRAG, PLATE = 0.010, 0.012, 1.3
STANDING = 0.05
"""The advance ratio taken for a standing start, where momentum theory has no answer."""
BLOCKAGE = 0.955
"""Share of the thrust left by nacelle and wing behind the propeller (common practice)."""
MIN_PITCH, MAX_PITCH, FEATHER, REVERSE = 24.0, 60.0, 88.0, -14.0
ANGLES = (-20, -14, -8, -2, 4, 10, 14, 18, 22, 26, 30, 34, 38, 42, 46, 52, 60, 70, 80, 88)
ADVANCES = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0, 1.2, 1.4, 1.6, 1.8, 2.0, 2.4, 3.0, 4.0, 6.0)


def compression_ratio() -> float:
    """The ratio at which JSBSim's engine loses EXHAUST inHg for each inHg of ambient pressure."""
    low, high = 3.0, 15.0
    for _ in range(60):
        ratio = (low + high) / 2
        whole = (SPECIFIC_HEAT_RATIO - 1) / SPECIFIC_HEAT_RATIO + ratio / (
            SPECIFIC_HEAT_RATIO * (ratio - 1)
        )
        share = 1 / (SPECIFIC_HEAT_RATIO * (ratio - 1)) / whole
        low, high = (ratio, high) if share > EXHAUST else (low, ratio)
    return ratio


def volumetric_efficiency() -> float:
    """The efficiency at 288.15 K that gives CHARGE psi of indicated pressure for each inHg."""
    ratio = compression_ratio()
    charge = (SPECIFIC_HEAT_RATIO - 1) / SPECIFIC_HEAT_RATIO + ratio / (
        SPECIFIC_HEAT_RATIO * (ratio - 1)
    )
    # Horsepower for an inHg and a rpm, on either side.
    wanted = CHARGE * DISPLACEMENT / 792000
    air = DISPLACEMENT * CUBIC_METRES / 120 * charge * PASCAL_IN_INHG / (GAS * 288.15)
    fuel = air * RICH / 14.7 * 2.2046 * 3600
    return wanted / (fuel / FUEL_PER_HORSEPOWER)


def chord(radius: float) -> float:
    """Chord over diameter at a radius over the tip's."""
    for (r0, c0), (r1, c1) in pairwise(CHORD):
        if radius <= r1:
            return c0 + (c1 - c0) * (radius - r0) / (r1 - r0)
    return CHORD[-1][1]


def section(angle: float) -> tuple[float, float]:
    """Lift and drag coefficients of the blade at an angle to its chord in radians."""
    if -STALL_BELOW <= angle <= STALL:
        lift = LIFT_SLOPE * (angle - ZERO_LIFT)
        return lift, PROFILE_DRAG + LIFT_DRAG * (lift - 0.4) ** 2
    edge, sign = (STALL, 1) if angle > 0 else (STALL_BELOW, -1)
    edge_lift = sign * LIFT_SLOPE * (sign * edge - ZERO_LIFT)
    edge_drag = PROFILE_DRAG + LIFT_DRAG * (sign * edge_lift - 0.4) ** 2
    steep = max(min(abs(angle), math.pi - abs(angle)), edge)
    sine, cosine = math.sin(steep), math.cos(steep)
    rest = (edge_lift - PLATE * math.sin(edge) * math.cos(edge)) * math.sin(edge)
    lift = PLATE / 2 * math.sin(2 * steep) + rest / math.cos(edge) ** 2 * cosine**2 / sine
    drag = PLATE * sine**2 + (edge_drag - PLATE * math.sin(edge) ** 2) / math.cos(edge) * cosine
    return sign * lift, drag


def inflow(radius: float, pitch: float, advance: float) -> tuple[float, float, float]:
    """Inflow angle, axial and swirl induction of a station: the root of Ning's residual."""
    blade = (
        pitch
        + math.atan(TWIST_ADVANCE / (math.pi * radius))
        - math.atan(TWIST_ADVANCE / (math.pi * TIP_PITCH))
    )
    solidity = BLADES * chord(radius) * 2 / (2 * math.pi * radius)
    speed = max(advance, STANDING) / (math.pi * radius)

    def parts(phi: float) -> tuple[float, float, float]:
        lift, drag = section(blade - phi)
        normal = lift * math.cos(phi) - drag * math.sin(phi)
        tangent = lift * math.sin(phi) + drag * math.cos(phi)
        sine = abs(math.sin(phi))
        loss = 2 / math.pi * math.acos(math.exp(-BLADES / 2 * (1 - radius) / (radius * sine)))
        loss *= 2 / math.pi * math.acos(math.exp(-BLADES / 2 * (radius - 0.15) / (0.15 * sine)))
        loss = max(loss, 1e-4)
        k = solidity * normal / (4 * loss * math.sin(phi) ** 2)
        swirl = solidity * tangent / (4 * loss * math.sin(phi) * math.cos(phi))
        return math.sin(phi) * (1 - k) - speed * math.cos(phi) * (1 + swirl), k, swirl

    steps = [-math.pi / 2 + 1e-4 + (math.pi - 2e-4) * n / 400 for n in range(401)]
    geometric = math.atan(speed)
    best: float | None = None
    for low, high in pairwise(steps):
        if low < 0 < high:
            continue
        a, b = parts(low)[0], parts(high)[0]
        if a * b > 0 or abs(a) > 50 or abs(b) > 50:
            continue
        for _ in range(50):
            middle = (low + high) / 2
            c = parts(middle)[0]
            low, high, a = (middle, high, c) if a * c > 0 else (low, middle, a)
        root = (low + high) / 2
        if abs(parts(root)[0]) < 1e-3 and (
            best is None or abs(root - geometric) < abs(best - geometric)
        ):
            best = root
    phi = geometric if best is None else best
    _, k, swirl = parts(phi)
    return phi, min(max(k, -5), 0.98), min(max(swirl, -0.9), 5)


@cache
def coefficients(angle: float, advance: float) -> tuple[float, float]:
    """Thrust and power coefficients (rho n^2 D^4, rho n^3 D^5) at a blade angle in degrees."""
    width = (1 - HUB) / STATIONS
    thrust = power = 0.0
    for n in range(STATIONS):
        radius = HUB + (n + 0.5) * width
        phi, _, swirl = inflow(radius, math.radians(angle), advance)
        blade = math.radians(angle) + math.atan(TWIST_ADVANCE / (math.pi * radius))
        blade -= math.atan(TWIST_ADVANCE / (math.pi * TIP_PITCH))
        lift, drag = section(blade - phi)
        # The blade meets its own turning less the swirl, along the inflow.
        turning = math.pi * radius / (1 + swirl)
        along = turning / max(math.cos(phi), 1e-3)
        if abs(phi) > 1.2:
            along = max(advance, STANDING) / abs(math.sin(phi))
        along = min(along, 2.5 * math.hypot(math.pi * radius, advance))
        area = BLADES * chord(radius) * width / 2
        thrust += 0.5 * along**2 * area * (lift * math.cos(phi) - drag * math.sin(phi))
        power += (
            0.5 * along**2 * area * (lift * math.sin(phi) + drag * math.cos(phi)) * math.pi * radius
        )
    return thrust, power


def table(name: str, which: int) -> str:
    """One of the propeller's tables in JSBSim's form: advance ratio down, blade angle across."""
    lines = [" " * 8 + "".join(f"{angle:9d}" for angle in ANGLES)]
    for advance in ADVANCES:
        cells = "".join(f"{coefficients(angle, advance)[which]:9.4f}" for angle in ANGLES)
        lines.append(f"{advance:8.1f}{cells}")
    body = "\n".join(lines)
    return (
        f'  <table name="{name}" type="internal">\n    <tableData>\n{body}\n'
        "    </tableData>\n  </table>"
    )


def propeller() -> str:
    """The propeller's file."""
    return f"""<?xml version="1.0"?>
<!-- Invented propeller of the invented Whimbrel Four: three blades, blade angle at three
     quarters of the radius. Worked out by blade-element momentum theory; see
     tests/tools/whimbrel_flight.py, which writes this file. -->
<propeller name="whimbrel-propeller" version="1.1">
  <ixx unit="SLUG*FT2"> 110 </ixx>
  <diameter unit="FT"> {DIAMETER} </diameter>
  <numblades> {BLADES} </numblades>
  <gearratio> {GEAR_RATIO} </gearratio>
  <minpitch> {REVERSE} </minpitch>
  <maxpitch> {FEATHER} </maxpitch>
  <minrpm> 400 </minrpm>
  <maxrpm> {MAX_RPM / GEAR_RATIO:.0f} </maxrpm>
  <constspeed> 0 </constspeed>
  <ct_factor> {BLOCKAGE} </ct_factor>
{table("C_THRUST", 0)}
{table("C_POWER", 1)}
</propeller>
"""


def engine() -> str:
    """The engine's file."""
    friction = (FRICTION["low"] - PUMPING) * PASCAL_IN_PSI
    boost = {name: (ratio - 1) * STANDARD_PRESSURE / 6895 for name, ratio in BOOST.items()}
    return f"""<?xml version="1.0"?>
<!-- Invented engine of the invented Whimbrel Four: eighteen cylinders, one blower of two
     speeds shifted by hand. Written by tests/tools/whimbrel_flight.py. -->
<piston_engine name="whimbrel-engine">
  <minmp unit="INHG"> 10.0 </minmp>
  <maxmp unit="INHG"> 28.0 </maxmp>
  <man-press-lag> 0.4 </man-press-lag>
  <displacement unit="IN3"> {DISPLACEMENT} </displacement>
  <bore unit="IN"> {BORE} </bore>
  <stroke unit="IN"> {STROKE} </stroke>
  <cylinders> {CYLINDERS} </cylinders>
  <cylinder-head-mass unit="KG"> 60.0 </cylinder-head-mass>
  <compression-ratio> {compression_ratio():.4f} </compression-ratio>
  <maxhp> 1950 </maxhp>
  <cycles> 4 </cycles>
  <idlerpm> {IDLE_RPM} </idlerpm>
  <maxrpm> {MAX_RPM} </maxrpm>
  <volumetric-efficiency> {volumetric_efficiency():.5f} </volumetric-efficiency>
  <bsfc unit="LBS/HP*HR"> {FUEL_PER_HORSEPOWER} </bsfc>
  <static-friction unit="HP"> 0 </static-friction>
  <static-fmep unit="PA"> {friction:.0f} </static-fmep>
  <dynamic-fmep unit="PA"> 0 </dynamic-fmep>
  <air-intake-impedance-factor> 0.1 </air-intake-impedance-factor>
  <ram-air-factor> 0 </ram-air-factor>
  <cooling-factor> {COOLING} </cooling-factor>
  <oil-pressure-relief-valve-psi> 78 </oil-pressure-relief-valve-psi>
  <oil-pressure-rpm-max> 900 </oil-pressure-rpm-max>
  <numboostspeeds> 2 </numboostspeeds>
  <boostmanual> 1 </boostmanual>
  <boostoverride> 1 </boostoverride>
  <ratedboost1 unit="PSI"> {boost["low"]:.4f} </ratedboost1>
  <ratedpower1 unit="HP"> 1900 </ratedpower1>
  <ratedrpm1> {MAX_RPM:.0f} </ratedrpm1>
  <ratedaltitude1 unit="FT"> 0 </ratedaltitude1>
  <ratedboost2 unit="PSI"> {boost["high"]:.4f} </ratedboost2>
  <ratedpower2 unit="HP"> 1900 </ratedpower2>
  <ratedrpm2> {MAX_RPM:.0f} </ratedrpm2>
  <ratedaltitude2 unit="FT"> 0 </ratedaltitude2>
</piston_engine>
"""


def controls(n: int) -> str:
    """The controls of one engine: carburettor, blower, charge, friction, governor."""
    e = f"propulsion/engine[{n}]"
    metres = math.pi * IMPELLER_DIAMETER / 60
    high = FRICTION["high"] - FRICTION["low"]
    tip = {name: (metres * ratio) ** 2 * WORK / 1005 for name, ratio in GEAR.items()}
    return f"""
  <channel name="engine {n + 1}">
    <fcs_function name="fcs/carburettor[{n}]">
      <description>Automatic rich: the mixture follows the air's pressure.</description>
      <function><product>
        <value> {RICH / 1.3:.5f} </value>
        <difference><value> 1 </value><property>fcs/cut-off[{n}]</property></difference>
        <quotient><property>atmosphere/P-psf</property><value> 2116.22 </value></quotient>
      </product></function>
      <output>fcs/mixture-cmd-norm[{n}]</output>
    </fcs_function>
    <fcs_function name="fcs/charge[{n}]">
      <description>A charge goes with one over the root of the air's absolute temperature at the
        carburettor, 5 K above the outside (Taylor, The Internal-Combustion Engine in Theory and
        Practice, volume 1, chapter 6); JSBSim's goes with one over the outside temperature.
      </description>
      <function><product>
        <value> {volumetric_efficiency():.5f} </value>
        <quotient>
          <property>fcs/air-kelvin</property>
          <pow><product>
            <sum><property>fcs/air-kelvin</property><value> 5 </value></sum><value> 288.15 </value>
          </product><value> 0.5 </value></pow>
        </quotient>
      </product></function>
      <output>{e}/volumetric-efficiency</output>
    </fcs_function>
    <fcs_function name="fcs/blower[{n}]">
      <description>A centrifugal blower's pressure ratio goes with the square of its tip speed;
        JSBSim's is linear in RPM. The intake takes what that is too much. In standard air, as
        the aircraft file's full-throttle tables are.</description>
      <function><max><value> 0 </value><product>
        <quotient><value> 100 </value><max><value> 1 </value><product>
          <property>{e}/engine-rpm</property><value> {STROKE / 360:.6f} </value>
        </product></max></quotient>
        <difference>
          <quotient>
            <sum><value> 1 </value><product>
              <property>{e}/engine-rpm</property>
              <ifthen><gt><property>{e}/boost-speed</property><value> 0.5 </value></gt>
                <value> {(BOOST["high"] - 1) / MAX_RPM:.9f} </value>
                <value> {(BOOST["low"] - 1) / MAX_RPM:.9f} </value></ifthen>
            </product></sum>
            <product><value> {INTAKE} </value><pow><sum><value> 1 </value><quotient><product>
              <ifthen><gt><property>{e}/boost-speed</property><value> 0.5 </value></gt>
                <value> {tip["high"]:.8f} </value>
                <value> {tip["low"]:.8f} </value></ifthen>
              <property>{e}/engine-rpm</property><property>{e}/engine-rpm</property>
            </product><property>fcs/standard-kelvin</property></quotient></sum>
            <value> 3.5 </value></pow></product>
          </quotient>
          <value> 1 </value>
        </difference>
      </product></max></function>
      <output>{e}/air-intake-impedance-factor</output>
    </fcs_function>
    <fcs_function name="fcs/blower-drive[{n}]">
      <description>Horsepower that the blower's high gear takes more than its low.</description>
      <function><product>
        <property>{e}/boost-speed</property>
        <property>{e}/engine-rpm</property>
        <value> {high * DISPLACEMENT / 792000:.6f} </value>
      </product></function>
      <output>{e}/friction-hp</output>
    </fcs_function>
    <summer name="fcs/overspeed[{n}]">
      <input>{e}/engine-rpm</input>
      <input>-fcs/rpm-cmd[{n}]</input>
    </summer>
    <switch name="fcs/governor-held[{n}]">
      <description>Nothing is gathered up while a stop holds the blades.</description>
      <default value="0"/>
      <test logic="AND" value="1">
        fcs/governed[{n}] le 0
        fcs/overspeed[{n}] lt 0
      </test>
      <test logic="AND" value="1">
        fcs/governed[{n}] ge {MAX_PITCH - MIN_PITCH}
        fcs/overspeed[{n}] gt 0
      </test>
    </switch>
    <pid name="fcs/governed[{n}]">
      <input>fcs/overspeed[{n}]</input>
      <kp> 0.300 </kp>
      <ki> 0.200 </ki>
      <trigger>fcs/governor-held[{n}]</trigger>
      <clipto><min> 0 </min><max> {MAX_PITCH - MIN_PITCH} </max></clipto>
    </pid>
    <switch name="fcs/blade-wanted[{n}]">
      <default value="fcs/blade-governed[{n}]"/>
      <test value="{FEATHER}"> fcs/feathered[{n}] gt 0.5 </test>
      <test value="{REVERSE}"> fcs/reversed[{n}] gt 0.5 </test>
    </switch>
    <summer name="fcs/blade-governed[{n}]">
      <input>fcs/governed[{n}]</input>
      <bias> {MIN_PITCH} </bias>
    </summer>
    <actuator name="fcs/blade[{n}]">
      <input>fcs/blade-wanted[{n}]</input>
      <rate_limit> 18 </rate_limit>
      <output>{e}/blade-angle</output>
    </actuator>
  </channel>"""


def powerplant() -> str:
    """The controls of the four engines as a system of JSBSim."""
    names = "".join(
        f'\n  <property value="{value}">fcs/{name}[{n}]</property>'
        for name, value in (
            ("rpm-cmd", TAKEOFF_RPM),
            ("feathered", 0),
            ("reversed", 0),
            ("cut-off", 0),
        )
        for n in range(4)
    )
    return f"""<?xml version="1.0"?>
<!-- What the invented Whimbrel Four's engines have beside the engines. Written by
     tests/tools/whimbrel_flight.py. -->
<system name="powerplant">{names}
  <channel name="air">
    <fcs_function name="fcs/air-kelvin">
      <function><product>
        <property>atmosphere/T-R</property><value> 0.55555556 </value>
      </product></function>
    </fcs_function>
    <fcs_function name="fcs/standard-kelvin">
      <function><product>
        <value> 288.15 </value>
        <pow><quotient><property>atmosphere/P-psf</property><value> 2116.22 </value></quotient>
          <value> 0.190263 </value></pow>
      </product></function>
    </fcs_function>
  </channel>{"".join(controls(n) for n in range(4))}
</system>
"""


if __name__ == "__main__":
    (MODEL / "engine" / "whimbrel-engine.xml").write_text(engine(), encoding="utf-8")
    (MODEL / "engine" / "whimbrel-propeller.xml").write_text(propeller(), encoding="utf-8")
    (MODEL / "systems" / "powerplant.xml").write_text(powerplant(), encoding="utf-8")
