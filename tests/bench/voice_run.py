"""A voice run measured: memory, processor use while waiting, and answer to next challenge.

    python tests/bench/voice_run.py

Memory is the proportional set size of Runner and every process it started, with the full
screen in a terminal of its own. Waiting is ten seconds with the microphone open and nobody
speaking. The answer's end is that of its last audible sample as it was given to the sound
server, which is a little before it is heard, so the time to the next challenge's first
sample is if anything told too long.
"""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

from flying import ANSWERS, CHALLENGES, WEIGHT
from sound import SoundSystem, voices
from voice_crew import VoiceFlight

WAITING = 10.0


def family(pid: int) -> list[int]:
    """A process and all that it started."""
    children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    return [pid, *(one for child in children for one in family(int(child)))]


def memory(pid: int) -> int:
    """Proportional set size in bytes."""
    for line in Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines():
        if line.startswith("Pss:"):
            return int(line.split()[1]) * 1024
    return 0


def processor(pids: list[int]) -> float:
    """Processor seconds used so far."""
    ticks = 0
    for pid in pids:
        fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
        ticks += int(fields[11]) + int(fields[12])
    return ticks / os.sysconf("SC_CLK_TCK")


def marks(trace: Path) -> list[dict[str, object]]:
    """The moments written so far."""
    return [json.loads(line) for line in trace.read_text().splitlines()]


def waiting(sound: SoundSystem, folder: Path, screen: str) -> None:
    """Print memory and processor use of a run that waits for an answer."""
    trace = folder / f"trace-{screen}"
    command = [sys.executable, "-m", "runner", "fly", "--phase", "before-takeoff"]
    command += ["--screen", screen, "--logbook", str(folder / f"{screen}.sqlite3")]
    if screen == "full":
        command = ["script", "-qec", " ".join(command), "/dev/null"]
    process = subprocess.Popen(
        command,
        env={**os.environ, **sound.environment, "RUNNER_TRACE": str(trace), "TERM": "xterm"},
        stdin=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        while not (trace.exists() and {"ready", "ended"} <= {m["what"] for m in marks(trace)}):
            time.sleep(0.1)
        time.sleep(1.0)
        pids = [pid for pid in family(process.pid) if _is_runner(pid)]
        before, began = processor(pids), time.monotonic()
        time.sleep(WAITING)
        share = (processor(pids) - before) / (time.monotonic() - began)
        sizes = [memory(pid) / 1e6 for pid in pids]
        print(
            f"{screen} screen: {sum(sizes):.0f} MB ({', '.join(f'{s:.0f}' for s in sizes)}; "
            f"goal 200 MB), waiting {share:.1%} of one core (goal 3%)"
        )
    finally:
        for pid in family(process.pid)[::-1]:
            os.kill(pid, 15)
        process.wait()


def _is_runner(pid: int) -> bool:
    return b"python" in Path(f"/proc/{pid}/cmdline").read_bytes().split(b"\0")[0]


def answering(sound: SoundSystem, folder: Path) -> None:
    """Print how long it takes from an answer's end to the next challenge's first sample."""
    flight = VoiceFlight(sound, folder, "--phase", "before-takeoff", "--set", WEIGHT)
    crew = voices()
    times: list[float] = []
    try:
        flight.wait_for("Runner: Before take-off checklist")
        flight.wait_until_heard()
        for place, challenge in enumerate(CHALLENGES):
            for attempt in range(6):
                time.sleep(1.2)
                voice = crew[(place + attempt) % len(crew)]
                ended = sound.answer(voice, ANSWERS[place])
                time.sleep(1.2)
                spoken = [
                    float(str(m["monotonic"]))
                    for m in marks(flight.trace)
                    if m["what"] == "speaking" and float(str(m["monotonic"])) > ended
                ]
                done = [line for line in flight.lines if line.startswith(f"{challenge}: ")]
                if any("heard" not in line and "not app" not in line for line in done):
                    if spoken:
                        times.append(min(spoken) - ended)
                    break
    finally:
        flight.stop()
    if times:
        print(
            f"answer's end to the next challenge's first sample: median "
            f"{statistics.median(times) * 1000:.0f} ms, worst {max(times) * 1000:.0f} ms of "
            f"{len(times)} (goal 350 ms)"
        )


def main() -> None:
    """Print everything."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        sound = SoundSystem(folder / "sound")
        try:
            waiting(sound, folder, "full")
            waiting(sound, folder, "plain")
            answering(sound, folder)
        finally:
            sound.stop()


if __name__ == "__main__":
    main()
