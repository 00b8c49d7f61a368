"""Sounds of a cockpit that are no answer: four piston engines, wind, keys, a radio.

The drone's spectrum follows from how its sources turn, with invented but usual numbers
(common practice): a propeller gives the harmonics of blades * rpm / 60, a four-stroke engine
those of rpm / 2 * cylinders / 60 and, because no two cylinders are alike, weaker lines at every
half of its own turning. Four propellers a few turns apart beat against one another. Higher
blade harmonics fall off; the air along the skin is broad noise that falls with frequency.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

RATE = 16_000

Sound = NDArray[np.float32]

ACTIVE_BELOW_PEAK = 15.9
"""dB below the mean of what is active at which a frame counts as active: the margin of ITU-T
Recommendation P.56 (2011), "Objective measurement of active speech level", clause 7 (from
memory). Here over frames of 20 ms instead of its envelope."""


@dataclass(frozen=True, slots=True)
class Powerplant:
    """What turns: propeller revolutions a minute, and the shares of sound by power."""

    propeller_rpm: float = 1_200.0
    blades: int = 3
    cylinders: int = 18
    reduction: float = 0.45
    """Turns of a propeller for one of its crankshaft."""
    apart: float = 0.008
    """Greatest difference of one propeller's speed from the mean, as a share."""
    propeller: float = 1.0
    exhaust: float = 0.3
    air: float = 0.35


CRUISE = Powerplant()
CLIMB = Powerplant(propeller_rpm=1_350.0, exhaust=0.6, air=0.3)
DESCENT = Powerplant(propeller_rpm=1_020.0, exhaust=0.15, air=0.8)
PLANTS = (CRUISE, CLIMB, DESCENT)


def drone(seconds: float, seed: int, plant: Powerplant = CRUISE, engines: int = 4) -> Sound:
    """Engines and the air past the windows: root mean square 1."""
    rng = np.random.default_rng(seed)
    time = np.arange(round(seconds * RATE)) / RATE
    propellers, exhausts = np.zeros(len(time)), np.zeros(len(time))
    for _ in range(engines):
        rpm = plant.propeller_rpm * (1 + rng.uniform(-plant.apart, plant.apart))
        turned = _turned(rpm / 60, time, rng)
        loudness = rng.uniform(0.7, 1.3)
        for harmonic in range(1, 21):
            strength = loudness * 10 ** (-3.5 * (harmonic - 1) / 20) * rng.uniform(0.6, 1.4)
            phase = rng.uniform(0, 2 * np.pi)
            propellers += strength * np.cos(2 * np.pi * plant.blades * harmonic * turned + phase)
        crank = turned / plant.reduction
        for half in range(1, 2 * plant.cylinders + 1):
            # Every cylinder fires once in two turns.
            firing = half % plant.cylinders == 0
            strength = loudness * (1.0 if firing else 0.25 / half**0.5) * rng.uniform(0.5, 1.5)
            exhausts += strength * np.cos(np.pi * half * crank + rng.uniform(0, 2 * np.pi))
    parts = (
        (propellers, plant.propeller),
        (exhausts, plant.exhaust),
        (wind(seconds, seed + 1), plant.air),
    )
    made = sum(part / part.std() * share**0.5 for part, share in parts if part.std() > 0)
    return np.asarray(made / np.std(made), dtype=np.float32)


def _turned(each_second: float, time: NDArray[np.float64], rng: np.random.Generator) -> Sound:
    """Turns made so far: a governor holds the speed within a thousandth or so."""
    steps = max(2, round(len(time) / RATE * 2) + 1)
    wander = np.interp(time, np.linspace(0, time[-1], steps), rng.normal(0, 0.001, steps))
    return np.asarray(np.cumsum(each_second * (1 + wander)) / RATE)


def wind(seconds: float, seed: int, gusts: float = 0.0) -> Sound:
    """Broad noise, level up to 250 Hz and falling by 5 dB an octave above: root mean square 1.

    ``gusts`` is the spread, in dB, of its slow swelling.
    """
    rng = np.random.default_rng(seed)
    count = round(seconds * RATE)
    spectrum = np.fft.rfft(rng.normal(0, 1, count))
    spectrum /= np.maximum(1.0, np.fft.rfftfreq(count, 1 / RATE) / 250) ** (5 / 6.02)
    made = np.fft.irfft(spectrum, count)
    if gusts:
        steps = max(2, round(seconds * 1.5))
        swell = np.interp(np.arange(count), np.linspace(0, count, steps), rng.normal(0, 1, steps))
        made *= 10 ** (gusts * swell / 20)
    return np.asarray(made / made.std(), dtype=np.float32)


def keys(seconds: float, seed: int, each_second: float = 6.0) -> Sound:
    """A keyboard: pairs of short, bright, decaying knocks, down and up; the loudest peak is 1."""
    rng = np.random.default_rng(seed)
    made = np.zeros(round(seconds * RATE) + RATE)
    at = 0.0
    while at < seconds:
        for delay, strength in ((0.0, 1.0), (rng.uniform(0.06, 0.12), rng.uniform(0.2, 0.6))):
            length = round(RATE * rng.uniform(0.01, 0.03))
            time = np.arange(length) / RATE
            knock = rng.normal(0, 1, length) * np.exp(-time / rng.uniform(0.002, 0.006))
            for _ in range(2):
                ring = np.sin(2 * np.pi * rng.uniform(400, 5_000) * time)
                knock += ring * np.exp(-time / rng.uniform(0.004, 0.012))
            place = round((at + delay) * RATE)
            made[place : place + length] += strength * rng.uniform(0.4, 1.0) * knock
        at += rng.exponential(1 / each_second) + 0.03
    made = made[: round(seconds * RATE)]
    return np.asarray(made / np.abs(made).max(), dtype=np.float32)


def over_the_radio(speech: Sound) -> Sound:
    """A voice from 300 to 3,000 Hz, squeezed in level as a transmitter does."""
    spectrum = np.fft.rfft(speech)
    hertz = np.fft.rfftfreq(len(speech), 1 / RATE)
    spectrum[(hertz < 300) | (hertz > 3_000)] = 0
    narrow = np.fft.irfft(spectrum, len(speech))
    top = max(1.0, float(np.percentile(np.abs(narrow), 99)))
    return np.asarray(np.tanh(2 * narrow / top) * top / 2, dtype=np.float32)


def active_level(speech: Sound) -> float:
    """Root mean square of the active part of speech, after P.56 (see ``ACTIVE_BELOW_PEAK``)."""
    frames = speech[: len(speech) // 320 * 320].reshape(-1, 320).astype(np.float64)
    power = (frames**2).mean(axis=1)
    level = float(power.max())
    for _ in range(20):
        active = power[power > level * 10 ** (-ACTIVE_BELOW_PEAK / 10)]
        if np.isclose(active.mean(), level):
            break
        level = float(active.mean())
    return float(np.sqrt(level))


def at_snr(speech: Sound, noise: Sound, snr: float) -> Sound:
    """``noise`` (root mean square 1) as loud as lies ``snr`` dB below the active speech.

    Both over the whole band up to 8 kHz, as a microphone gives them.
    """
    return np.asarray(noise * active_level(speech) / 10 ** (snr / 20), dtype=np.float32)
