"""From process start to the first challenge spoken, with an answer to it heard: medians.

    python tests/bench/start.py [RUNS]

Ready is the later of two moments: the first sample of the first challenge has gone to the
loudspeaker (a null sink here), and an answer would be heard. The goal is 1.0 s. Beside it
stands what cannot be avoided: a bare ``import textual`` and PocketSphinx's model alone.

A null sink to which nobody listens works in blocks of two seconds, which no sound card
does; so somebody listens to both while it is measured.
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

from sound import SoundSystem

BARE = (
    "import textual.app, textual.widgets, pocketsphinx\n"
    "pocketsphinx.Decoder(lm=None, loglevel='FATAL')"
)


def until_ready(environment: dict[str, str], screen: str, folder: Path) -> float | None:
    """Seconds from process start until Runner has asked and would hear."""
    trace = folder / f"trace-{time.monotonic_ns()}"
    before = time.monotonic()
    arguments = ["fly", "--phase", "before-takeoff", "--screen", screen]
    command = [sys.executable, "-m", "runner", *arguments, "--logbook", str(trace) + ".sqlite3"]
    if screen == "full":
        command = ["script", "-qec", " ".join(command), "/dev/null"]
    process = subprocess.Popen(
        command,
        env=environment | {"RUNNER_TRACE": str(trace), "TERM": "xterm-256color"},
        stdin=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        while time.monotonic() < before + 20:
            if trace.exists():
                marks = [json.loads(line) for line in trace.read_text().splitlines()]
                times = {m["what"]: m["monotonic"] for m in reversed(marks)}
                if {"ready", "speaking"} <= times.keys():
                    return max(times["ready"], times["speaking"]) - before
            time.sleep(0.02)
        return None
    finally:
        process.terminate()
        process.wait()


def timed(command: list[str]) -> float:
    """Seconds that a command takes."""
    before = time.monotonic()
    subprocess.run(command, check=True, capture_output=True)
    return time.monotonic() - before


def main() -> None:
    """Print the medians."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 7
    bare = statistics.median(timed([sys.executable, "-c", BARE]) for _ in range(runs))
    print(f"import textual and PocketSphinx's model alone: {bare:.2f} s")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        sound = SoundSystem(folder / "sound")
        environment = {**os.environ, **sound.environment}
        for screen in ("plain", "full"):
            with sound.recorded("ears"), sound.recorded("mouth", "mouth.monitor"):
                # The first start fills the caches of readings and phrases.
                first = until_ready(environment, screen, folder)
                found = [until_ready(environment, screen, folder) for _ in range(runs)]
            times = [t for t in found if t is not None]
            if not times:
                print(f"{screen}: never ready")
                continue
            median = statistics.median(times)
            print(
                f"{screen} screen, ready to hear: median {median:.2f} s of {len(times)} "
                f"(goal 1.0 s), {median / bare:.1f} times the bare imports; "
                f"very first start {first or float('nan'):.2f} s"
            )
        sound.stop()


if __name__ == "__main__":
    main()
