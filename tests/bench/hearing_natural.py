"""Numbers in one breath, as synthetic strangers say them: right, wrong and refused.

    python tests/bench/hearing_natural.py [--each 24] [--snr 40] [--processes 2] [--show]

Nobody has recorded such numbers, so these are no figures of how people are heard: they show
what is taken wrongly and why. The pilots are this machine's recorded voices at other pitches
and tempos (``tests/pilots.py``), each left out of the templates with the same speaker's other
recordings. Every utterance is heard once, by the recogniser of numbers and the judge. Needs sox.
"""

from __future__ import annotations

import argparse
import os
import random
import sys
import tempfile
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

from matching import controls  # noqa: E402
from pilots import SPEECH, Pilot, drone, leave_out  # noqa: E402
from runner.engine.effects import Listen, NumberWanted  # noqa: E402
from runner.phrasing.numbers import say_number  # noqa: E402
from runner.phrasing.style import Form  # noqa: E402
from runner.voice.embedding import NOISY_BELOW, clearness  # noqa: E402
from runner.voice.judge import Around, judge  # noqa: E402
from runner.voice.number_recogniser import NumberRecogniser  # noqa: E402
from sound import voices  # noqa: E402

RATE = 16_000
PITCHES = (-200, -80, 80, 200)
STYLES = ("cockpit", "cockpit", "faa", "icao")
WANTED = (
    (NumberWanted(Form("rpm", 0, "rpm"), 0, 9999), lambda r: r.randrange(20, 58) * 50),
    (NumberWanted(Form("manifold_pressure", 1, "inHg"), 0, 99), lambda r: r.randrange(44, 120) / 2),
    (NumberWanted(Form("bmep", 0, "psi"), -1e4, 1e6), lambda r: r.randrange(100, 260)),
    (NumberWanted(Form("speed", 0, "kt"), 0, 500), lambda r: r.randrange(60, 190)),
    (NumberWanted(Form("altitude", 0, "ft"), -2000, 99_999), lambda r: r.randrange(5, 150) * 100),
    (NumberWanted(Form("heading", 0, ""), 0, 360), lambda r: r.randrange(36) * 10),
)
"""Windows as flights have them, and what is said in them."""


def by_voice(voice: str, each: int, snr: float, show: bool) -> Counter[str]:
    """What became of ``each`` numbers at every pitch."""
    leave_out(voice)
    ears, commands = NumberRecogniser(), controls()
    rng = random.Random(voice)
    found: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as folder:
        for pitch in PITCHES:
            pilot = Pilot(voice, rng, Path(folder))
            pilot.pitch = pitch
            engines = drone(20.0, rng) * SPEECH / 10 ** (snr / 20)
            for number in range(each):
                wanted, draw = WANTED[number % len(WANTED)]
                value = draw(rng)
                text = say_number(value, wanted.form, rng.choice(STYLES))
                sound = np.pad(pilot.say(text)[0], (3_200, 4_800))
                at = rng.randrange(len(engines) - len(sound))
                hiss = np.random.default_rng(rng.randrange(1 << 30)).normal(0, 4, len(sound))
                sound = np.clip(sound + engines[at : at + len(sound)] + hiss, -32_767, 32_767)
                listen = Listen(number + 1, commands, wanted)
                ears.prepare(listen)
                ears.begin()
                ears.feed(sound.astype("<i2").tobytes())
                around = Around(noisy=clearness(sound.astype(np.float32)) < NOISY_BELOW)
                heard = judge(ears.propose(), listen, around)
                kind = "refused"
                if heard.decision == "accept":
                    kind = "right" if heard.value == value else "wrong"
                found[kind] += 1
                if show or kind == "wrong":
                    print(f"{voice} {pitch}: {text!r} {kind}: {heard.text!r}", flush=True)
    ears.close()
    return found


def main() -> int:
    """Print the counts of each voice and of all."""
    asked = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    asked.add_argument("--each", type=int, default=24)
    asked.add_argument("--snr", type=float, default=40.0)
    asked.add_argument("--processes", type=int, default=os.cpu_count())
    asked.add_argument("--show", action="store_true")
    options = asked.parse_args()
    those = voices()
    if not those:
        print("needs sox, and voices of flite or festival", file=sys.stderr)
        return 2
    whole: Counter[str] = Counter()
    with ProcessPoolExecutor(options.processes, max_tasks_per_child=1) as crew:
        jobs = {
            voice: crew.submit(by_voice, voice, options.each, options.snr, options.show)
            for voice in those
        }
        for voice, job in jobs.items():
            found = job.result()
            whole += found
            print(f"{voice}: {dict(found)}", flush=True)
    print(f"right {whole['right']}, wrong {whole['wrong']}, refused {whole['refused']}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
