"""How soon a browser shows what the run shows: from a view to the changed page, on one machine.

    python tests/bench/tablet.py [--views 200] [--browsers 1]

A server in this process, pages in headless Chromium. The time is from the call of ``show``
to the change of the page's document, both by the machine's clock, to its millisecond; what
the browser then takes to paint is not in it.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from contextlib import closing
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from screen_views import abnormal, mid_list
from tablet_served import Served, chromium, opened

WATCH = """() => {
  window.changes = [];
  new MutationObserver(() => window.changes.push(
    [document.getElementById('asked').textContent, performance.timeOrigin + performance.now()]
  )).observe(document.getElementById('asked'), {childList: true, characterData: true});
}"""


def main() -> None:
    """Show views one after another and print how long each took to be in every page."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--views", type=int, default=200)
    parser.add_argument("--browsers", type=int, default=1)
    asked = parser.parse_args()
    with chromium() as browser, closing(Served()) as served:
        served.do(lambda: served.tablet.show(mid_list()))
        pages = [opened(browser, served.tablet.address) for _ in range(asked.browsers)]
        for one in pages:
            one.until_live()
            one.page.evaluate(WATCH)
        began = []
        for number in range(asked.views):
            view = mid_list() if number % 2 else abnormal()
            began.append(time.time() * 1000)
            served.do(lambda view=view: served.tablet.show(view))  # type: ignore[misc]
            time.sleep(0.05)
        delays = []
        for one in pages:
            seen = [at for _, at in one.page.evaluate("window.changes")]
            assert len(seen) == asked.views, f"{len(seen)} of {asked.views} views were shown"
            delays += [at - start for at, start in zip(seen, began, strict=True)]
    delays.sort()
    print(
        f"{asked.browsers} browser(s), {asked.views} views: from the view to the changed page "
        f"median {statistics.median(delays):.1f} ms, 95 of 100 within "
        f"{delays[int(len(delays) * 0.95)]:.1f} ms, longest {delays[-1]:.1f} ms"
    )


if __name__ == "__main__":
    main()
