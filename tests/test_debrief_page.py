"""The debrief's page in a real browser: quiet, alone, narrow enough, and whole on paper.

The page is made by the program from real runs of it and opened in headless Chromium, which
is told by nobody that it is a test. Skipped where there is no Chromium.
"""

from __future__ import annotations

import subprocess
import sys
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from debrief_flights import before_takeoffs, drills, hostile_run
from runner.figures.card import WARNING
from tablet_served import chromium

NARROW, WIDE = 360, 1100
A4 = (595, 842)
"""Points of a sheet of A4 (ISO 216: 210 by 297 mm)."""


@dataclass
class Opened:
    """A page in the browser, what its console said and what it asked for."""

    page: Any
    said: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with chromium() as opened:
        yield opened


def made(logbook: Path, *more: str) -> Path:
    """The page that the program makes of the newest run."""
    file = logbook.with_suffix(".html")
    command = [sys.executable, "-m", "runner", "debrief", "--logbook", str(logbook)]
    done = subprocess.run(
        [*command, "--html", str(file), *more], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert all(len(line) <= 80 for line in done.stdout.splitlines() if str(file) not in line)
    return file


@pytest.fixture(scope="module")
def debriefed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page of a pilot with three runs and weeks of drills."""
    logbook = tmp_path_factory.mktemp("pilot") / "logbook.sqlite3"
    before_takeoffs(logbook, 3)
    drills(logbook, 3, datetime.now(UTC))
    return made(logbook, "--compare", "2")


def opened(browser: Any, file: Path, width: int) -> Opened:
    one = Opened(browser.new_page(viewport={"width": width, "height": 800}))
    one.page.on("console", lambda message: one.said.append(message.text))
    one.page.on("pageerror", lambda error: one.said.append(str(error)))
    one.page.on("dialog", lambda dialog: (one.said.append(dialog.message), dialog.dismiss()))
    one.page.on("request", lambda request: one.asked.append(request.url))
    one.page.goto(file.as_uri())
    one.page.wait_for_load_state("networkidle")
    return one


@pytest.mark.parametrize("width", [NARROW, WIDE])
def test_the_page_is_quiet_asks_for_nothing_and_does_not_scroll_sideways(
    browser: Any, debriefed: Path, width: int
) -> None:
    one = opened(browser, debriefed, width)
    assert one.said == []
    assert one.asked == [debriefed.as_uri()]
    assert one.page.evaluate("document.documentElement.scrollWidth") <= width
    assert one.page.evaluate("document.fonts.size") == 0
    one.page.close()


def test_every_section_is_there_and_every_picture_has_its_words(
    browser: Any, debriefed: Path
) -> None:
    one = opened(browser, debriefed, WIDE)
    titles = one.page.locator("h2").all_text_contents()
    for title in (
        "Advice",
        "Time line",
        "Time to answer",
        "Against run 2",
        "Flight by flight",
        "Drills by week",
        "Likely still known",
    ):
        assert title in titles
    figures = one.page.locator("figure").all()
    assert len(figures) == 6
    for figure in figures:
        words = figure.locator("figcaption").inner_text()
        assert len(words) > 40
        assert figure.locator("svg").get_attribute("role") == "img"
        assert figure.locator("svg").get_attribute("aria-label") == words
    assert one.page.locator("svg text").count() > 50
    assert one.page.locator(".warning").all_text_contents() == [WARNING, WARNING]
    ids = one.page.evaluate("[...document.querySelectorAll('[id]')].map(e => e.id)")
    assert len(ids) == len(set(ids))
    one.page.close()


def test_words_in_pictures_can_be_read_on_a_telephone(browser: Any, debriefed: Path) -> None:
    """Nothing is smaller than 8 CSS pixels; a row's name is 9 and more (common practice)."""
    one = opened(browser, debriefed, NARROW)
    heights = one.page.evaluate(
        "[...document.querySelectorAll('svg text')].map(e => e.getBoundingClientRect().height)"
    )
    assert min(heights) >= 8
    beyond = one.page.evaluate(
        "[...document.querySelectorAll('svg text')].filter(e => {"
        " const t = e.getBoundingClientRect(), s = e.closest('svg').getBoundingClientRect();"
        " return t.right > s.right + 2 || t.left < s.left - 2 }).map(e => e.textContent)"
    )
    assert beyond == []
    one.page.close()


def test_it_prints_on_a4_and_no_picture_is_cut(
    browser: Any, debriefed: Path, tmp_path: Path
) -> None:
    pypdf = pytest.importorskip("pypdf")
    one = opened(browser, debriefed, WIDE)
    # A word at the top and one at the bottom of every picture tell on which sheet they are.
    one.page.evaluate(
        """document.querySelectorAll('figure svg').forEach((svg, n) => {
          const [x, y, w, h] = svg.getAttribute('viewBox').split(' ').map(Number);
          for (const [word, at] of [['TOP', y + 9], ['END', y + h - 1]]) {
            const text = document.createElementNS('http://www.w3.org/2000/svg', 'text');
            text.textContent = `${word}${n}Q`; text.setAttribute('x', x);
            text.setAttribute('y', at); text.setAttribute('font-size', 8); svg.append(text);
          } })"""
    )
    file = tmp_path / "page.pdf"
    one.page.pdf(path=file, prefer_css_page_size=True)
    sheets = pypdf.PdfReader(file).pages
    assert {(round(s.mediabox.width), round(s.mediabox.height)) for s in sheets} == {A4}
    texts = [sheet.extract_text() for sheet in sheets]
    for number in range(one.page.locator("figure").count()):
        tops = [place for place, text in enumerate(texts) if f"TOP{number}Q" in text]
        ends = [place for place, text in enumerate(texts) if f"END{number}Q" in text]
        assert len(tops) == 1
        assert tops == ends
    assert WARNING in unicodedata.normalize("NFKC", " ".join(texts[0].split()))
    one.page.close()


def test_markup_in_files_and_in_answers_is_text(browser: Any, tmp_path: Path) -> None:
    logbook = tmp_path / "logbook.sqlite3"
    hostile_run(tmp_path, logbook)
    one = opened(browser, made(logbook), NARROW)
    assert one.said == []
    assert len(one.asked) == 1
    assert one.page.locator("script, img, iframe, object, link").count() == 0
    assert (
        one.page.evaluate(
            "[...document.querySelectorAll('*')].filter(e => "
            "[...e.attributes].some(a => a.name.startsWith('on'))).length"
        )
        == 0
    )
    title = '<script>alert(1)</script> & "mail" $\\frac{1}{2}$'
    assert title in one.page.locator("h1").inner_text()
    assert one.page.title().startswith(title)
    words = " ".join(one.page.locator("svg text").all_text_contents())
    assert "First & last </title><script>alert" in words
    assert 'Lights & "more" </text> $x_1$' in words
    assert one.page.evaluate("document.documentElement.scrollWidth") <= NARROW
    one.page.close()
