"""An invented piston engine on JSBSim's own bench, held still in the air at one RPM.

JSBSim (FGPiston) is the reference for what it models as the project does: a mean effective
pressure as horsepower, torque as power over RPM, fuel as indicated power times its specific
consumption, and manifold pressure at full throttle as the air's pressure times one blower
ratio. It takes the air outside, not the carburettor's, and power linear in its absolute
temperature; it knows no BMEP, no injection and, without a loss factor, no drag of the blower:
none of that is compared.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import jsbsim

PASCAL_IN_PSI = 6894.757293168361
SPECIFIC_CONSUMPTION = 0.45
"""lb/hp/h of indicated power, given to the engine."""

_AIRCRAFT = """<?xml version="1.0"?>
<fdm_config name="bench" version="2.0" release="ALPHA">
<fileheader/>
<metrics>
<wingarea unit="FT2">100</wingarea><wingspan unit="FT">10</wingspan><chord unit="FT">1</chord>
<location name="AERORP" unit="IN"><x>0</x><y>0</y><z>0</z></location>
</metrics>
<mass_balance>
<ixx unit="SLUG*FT2">1000</ixx><iyy unit="SLUG*FT2">1000</iyy><izz unit="SLUG*FT2">1000</izz>
<emptywt unit="LBS">10000</emptywt>
<location name="CG" unit="IN"><x>0</x><y>0</y><z>0</z></location>
</mass_balance>
<ground_reactions/>
<propulsion>
<engine file="engine"><feed>0</feed><thruster file="propeller">
<location unit="IN"><x>0</x><y>0</y><z>0</z></location></thruster></engine>
<tank type="FUEL"><location unit="IN"><x>0</x><y>0</y><z>0</z></location>
<capacity unit="LBS">1000</capacity><contents unit="LBS">1000</contents></tank>
</propulsion>
<flight_control name="none"/>
<aerodynamics/>
</fdm_config>
"""

_PROPELLER = """<propeller name="propeller">
<ixx unit="SLUG*FT2">100</ixx><diameter unit="IN">{diameter}</diameter>
<numblades>3</numblades><minpitch>20</minpitch><maxpitch>20</maxpitch>
<table name="C_THRUST" type="internal"><tableData>
0.0 0.05
5.0 0.04
</tableData></table>
<table name="C_POWER" type="internal"><tableData>
0.0 0.05
5.0 0.04
</tableData></table>
</propeller>
"""

_ENGINE = """<piston_engine name="engine">
<minmp unit="INHG">10</minmp><maxmp unit="INHG">29.9</maxmp>
<displacement unit="IN3">{displacement}</displacement><maxhp>1000</maxhp><cycles>4</cycles>
<idlerpm>500</idlerpm><maxrpm>2800</maxrpm>
<bore unit="IN">5.5</bore><stroke unit="IN">5.5</stroke><cylinders>14</cylinders>
<compression-ratio>7</compression-ratio><man-press-lag>0</man-press-lag>
<air-intake-impedance-factor>0</air-intake-impedance-factor><ram-air-factor>0</ram-air-factor>
<static-friction unit="HP">0</static-friction>
<static-fmep unit="PA">{friction}</static-fmep><dynamic-fmep unit="PA">0</dynamic-fmep>
<bsfc unit="LBS/HP*HR">{consumption}</bsfc>
{blower}
</piston_engine>
"""

_BLOWER = """<numboostspeeds>1</numboostspeeds><ratedboost1 unit="PSI">5</ratedboost1>
<ratedpower1 unit="HP">1000</ratedpower1><ratedrpm1>2000</ratedrpm1>
<ratedaltitude1 unit="FT">9000</ratedaltitude1>"""


@dataclass(frozen=True, slots=True)
class Reading:
    """What the bench shows; power in hp, torque in lbf ft, pressure in inHg, density in lb/gal."""

    rpm: float
    power: float
    torque: float
    manifold_pressure: float
    flow_pph: float
    flow_gph: float
    fuel_density: float


class Bench:
    """The engine running at full throttle; its RPM stays what it was at 3,000 ft."""

    def __init__(
        self,
        folder: Path,
        displacement: float = 2000,
        friction_psi: float = 0,
        diameter: float = 120,
        blower: bool = False,
    ) -> None:
        (folder / "aircraft" / "bench").mkdir(parents=True)
        (folder / "engine").mkdir()
        (folder / "aircraft" / "bench" / "bench.xml").write_text(_AIRCRAFT)
        (folder / "engine" / "propeller.xml").write_text(_PROPELLER.format(diameter=diameter))
        (folder / "engine" / "engine.xml").write_text(
            _ENGINE.format(
                displacement=displacement,
                friction=friction_psi * PASCAL_IN_PSI,
                consumption=SPECIFIC_CONSUMPTION,
                blower=_BLOWER if blower else "",
            )
        )
        self._simulation = jsbsim.FGFDMExec(str(folder))
        self._simulation.set_debug_level(0)
        assert self._simulation.load_model("bench")
        self._simulation["ic/h-sl-ft"] = 3000
        self._simulation["ic/vt-kts"] = 100
        self._simulation.run_ic()
        self._simulation["propulsion/magneto_cmd"] = 3
        self._simulation["fcs/throttle-cmd-norm"] = 1
        self._simulation["fcs/mixture-cmd-norm"] = 0.8
        self._simulation["propulsion/set-running"] = -1
        self._simulation.suspend_integration()

    def at(self, height_ft: float) -> Reading:
        """Readings at a geometric height in feet on a standard day, mixture at best power."""
        simulation = self._simulation
        simulation["position/h-sl-ft"] = height_ft
        simulation.run()
        # Fuel to air of 0.0816 by weight, where JSBSim's mixture table is flat at 1.
        simulation["fcs/mixture-cmd-norm"] = 1.2 / 1.3 * simulation["atmosphere/P-psf"] / 2116.22
        simulation.run()
        simulation.run()
        assert simulation["propulsion/engine/set-running"] == 1
        engine = "propulsion/engine/"
        return Reading(
            rpm=simulation[engine + "engine-rpm"],
            power=simulation[engine + "power-hp"],
            torque=-simulation[engine + "propeller-torque-ftlb"],
            manifold_pressure=simulation[engine + "map-inhg"],
            flow_pph=simulation[engine + "fuel-flow-rate-pps"] * 3600,
            flow_gph=simulation[engine + "fuel-flow-rate-gph"],
            fuel_density=simulation["propulsion/tank/density-lbs_per_gal"],
        )
