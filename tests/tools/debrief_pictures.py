"""Makes the README's pictures of a debrief: ``python tests/tools/debrief_pictures.py``.

Real runs of the program: nine before-take-off lists, weeks of drills, and a simulated flight
to five thousand feet with a fire on the way; then the page in headless Chromium.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

TESTS = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(TESTS))

from debrief_flights import before_takeoffs, drills  # noqa: E402
from shipped_answers import shipped  # noqa: E402
from test_fly_feed import answers, normal  # noqa: E402

PICTURES = TESTS / "pictures"


def pilot() -> list[str]:
    """What the pilot says on the simulated flight, with some of it wrong or late."""
    said = normal()
    said.insert(said.index("low blower"), "high blower")
    for _ in range(3):
        said.insert(said.index("<minimum_takeoff_bmep>"), "say again")
    lists = shipped().lists
    said += ["climb list", *answers(lists["climb"])]
    said += ["(climb-callouts.passing-five-thousand)"]
    return [*said, "engine fire number three", "engine two", "affirm"]


def main() -> None:
    """Fly, look back, and take the pictures."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        logbook, page = folder / "logbook.sqlite3", folder / "page.html"
        before_takeoffs(logbook, 9)
        drills(logbook, 9, datetime.now(UTC))
        (folder / "pilot.txt").write_text("\n".join(pilot()) + "\n")
        runner = (sys.executable, "-m", "runner")
        stored = ("--logbook", str(logbook))
        fly = (
            *(*runner, "fly", "--from", "before-takeoff", "--feed", "sim", "--clock", "fast"),
            *("--screen", "plain", "--speak", "none", "--listen", f"text:{folder / 'pilot.txt'}"),
            *(*stored, "--record-feed", str(folder / "feed.jsonl")),
        )
        subprocess.run(fly, check=False, stdout=subprocess.DEVNULL)
        look = (*runner, "debrief", *stored, "--readings", str(folder / "feed.jsonl"))
        subprocess.run((*look, "--html", str(page)), check=True)
        _take(page)


def _take(page: Path) -> None:
    from playwright.sync_api import sync_playwright

    chromium = shutil.which("chromium") or shutil.which("google-chrome")
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        narrow = _opened(browser, page, 360)
        clip = {"x": 0, "y": 0, "width": 360, "height": 1100}
        narrow.screenshot(path=PICTURES / "debrief-telephone.png", full_page=True, clip=clip)
        wide = _opened(browser, page, 620)
        for words, name in (
            (": climb manifold pressure", "climb"),
            ("lists in", "time-line"),
            ("A row of cells", "known"),
        ):
            figure = wide.locator("figure", has=wide.get_by_text(words)).first
            figure.screenshot(path=PICTURES / f"debrief-{name}.png")
        browser.close()


def _opened(browser: Any, page: Path, width: int) -> Any:
    one = browser.new_page(viewport={"width": width, "height": 800})
    one.goto(page.as_uri())
    return one


if __name__ == "__main__":
    main()
