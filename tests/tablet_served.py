"""A second screen served by a loop in a thread of its own, and pages that show it in Chromium."""

from __future__ import annotations

import asyncio
import io
import shutil
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from typing import Any, TypeVar

import pytest

from runner.checklist.load import find_file, load_procedures
from runner.figures.sheet import Sheet
from runner.flight import Flight
from runner.screen.plain import PlainScreen
from runner.tablet.beside import Beside
from runner.tablet.server import Tablet
from shipped_runs import started

WAYS = ("chromium", "chromium-browser", "google-chrome")

Result = TypeVar("Result")


@contextmanager
def chromium() -> Iterator[Any]:
    """A headless browser; the test is skipped where there is none."""
    found = next(filter(None, map(shutil.which, WAYS)), None)
    if found is None:
        pytest.skip("no Chromium on this machine: the page is not opened")
    playwright = pytest.importorskip("playwright.sync_api", reason="no playwright to drive it")
    with (
        playwright.sync_playwright() as driver,
        closing(driver.chromium.launch(executable_path=found, args=["--no-sandbox"])) as opened,
    ):
        yield opened


class Served:
    """The loop in its thread; everything of the tablet is done there by ``do``."""

    def __init__(self, port: int = 0) -> None:
        self.loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self.loop.run_forever)
        self._thread.start()
        self.tablet = Tablet("127.0.0.1", port)
        asyncio.run_coroutine_threadsafe(self.tablet.start(), self.loop).result(10)

    def do(self, work: Callable[[], Result]) -> Result:
        """Do this in the loop and wait for what it gives."""

        async def done() -> Result:
            return work()

        return asyncio.run_coroutine_threadsafe(done(), self.loop).result(10)

    def close(self) -> None:
        """Stop serving, and the loop."""
        if self.loop.is_running():
            asyncio.run_coroutine_threadsafe(self.tablet.stop(), self.loop).result(10)
            self.loop.call_soon_threadsafe(self.loop.stop)
            self._thread.join(10)
            self.loop.close()


def flight_beside(tablet: Tablet, phase: str) -> tuple[Flight, Beside]:
    """A real flight of the shipped procedures from ``phase`` on, with the tablet beside it."""
    procedures = load_procedures(find_file("whimbrel-four", ("checklists",)))
    event, program = started(procedures, phase)
    sheet = Sheet(procedures.aircraft)
    screen = Beside(PlainScreen(stdout=io.StringIO(), typed=False), tablet)
    flight = Flight(
        [event],
        program=program,
        sheet=sheet,
        worked=sheet.work_out({}),
        given={},
        screen=screen,
        fast=True,
        stays=True,
    )
    return flight, screen


@dataclass
class Opened:
    """A page, what its console said and every address that it asked for."""

    page: Any
    said: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)

    def text(self, part: str) -> str:
        """The words of a part of the page."""
        return str(self.page.locator(f"#{part}").text_content())

    def until(self, part: str, words: str, seconds: float = 8) -> None:
        """Wait until a part of the page says this."""
        self.page.wait_for_function(
            "([part, words]) => document.getElementById(part).textContent.includes(words)",
            arg=[part, words],
            timeout=seconds * 1000,
        )

    def until_live(self, live: bool = True, seconds: float = 8) -> None:
        """Wait until the page is shown as live, or no longer is."""
        self.page.wait_for_function(
            "live => (document.body.className === '') === live", arg=live, timeout=seconds * 1000
        )


def opened(browser: Any, address: str, width: int = 800, **options: Any) -> Opened:
    """The page at ``address`` in a window of this width."""
    one = Opened(browser.new_page(viewport={"width": width, "height": 800}, **options))
    one.page.on("console", lambda message: one.said.append(message.text))
    one.page.on("pageerror", lambda error: one.said.append(str(error)))
    one.page.on("dialog", lambda dialog: (one.said.append(dialog.message), dialog.dismiss()))
    one.page.on("request", lambda request: one.asked.append(request.url))
    one.page.on("websocket", lambda link: one.asked.append(link.url))
    one.page.goto(address)
    return one
