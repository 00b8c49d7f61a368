"""The running list in a real browser: as it goes on, alone, narrow, and never old unsaid.

Skipped where there is no Chromium, or nothing to drive it with.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread
from typing import Any

import pytest

from flying import ANSWERS, CHALLENGES
from runner.engine.view import FigureView, HeardView, ItemView, ListView, MemberView, View
from runner.figures.card import WARNING
from runner.screen.wording import challenge_words
from screen_views import abnormal, choosing, figures_changed, finished_open, mid_list, waiting
from tablet_served import Opened, Served, chromium, flight_beside, opened

OLD = "Not connected: what you see may be old."
NARROW = 360


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with chromium() as opened_browser:
        yield opened_browser


@pytest.fixture
def served() -> Iterator[Served]:
    with closing(Served()) as one:
        yield one


def live(browser: Any, served: Served, view: View | None = None, width: int = 800) -> Opened:
    """A page that shows ``view`` and is live."""
    served.do(lambda: served.tablet.show(view or mid_list()))
    one = opened(browser, served.tablet.address, width)
    one.until_live()
    return one


def alone(one: Opened, served: Served) -> None:
    """Nothing was asked of anybody but the one server, and the console is empty."""
    own = served.tablet.address.removeprefix("http://")
    assert {address.split("/")[2] for address in one.asked} == {own}
    assert one.said == []


def sideways(one: Opened) -> int:
    return int(one.page.evaluate("document.documentElement.scrollWidth"))


def test_a_flights_list_is_shown_as_it_goes_on(browser: Any, served: Served) -> None:
    flight, screen = served.do(lambda: flight_beside(served.tablet, "before-takeoff"))
    flying = asyncio.run_coroutine_threadsafe(flight.fly(), served.loop)
    one = opened(browser, served.tablet.address)
    one.until_live()
    for challenge, answer in list(zip(CHALLENGES, ANSWERS, strict=True))[:6]:
        one.until("asked", challenge)
        now = one.page.locator("#items li[aria-current]")
        assert now.count() == 1
        assert challenge in now.inner_text()
        assert ", now" in now.inner_text()
        served.do(lambda answer=answer: screen.on_text(answer))  # type: ignore[misc]
        one.until("heard", f"“{answer}”")
    one.until("asked", CHALLENGES[6])
    assert ", 6 of " in one.text("lead")
    done = one.page.locator("#items .dim").all_text_contents()
    assert len([text for text in done if ", done" in text]) == 6
    served.do(lambda: screen.on_text("low blower"))
    one.until("heard", "“low blower”: not clear.")
    one.until("said", "say again")
    assert CHALLENGES[6] in one.text("asked")
    assert one.page.title().startswith(CHALLENGES[6])

    late = opened(browser, served.tablet.address)
    late.until_live()
    for part in ("asked", "items", "figures", "lead", "phases", "heard", "said", "title"):
        assert late.text(part) == one.text(part)
    assert WARNING in late.text("warning")

    one.page.locator("#code").fill(served.tablet.code)
    one.page.get_by_role("button", name="Pair").click()
    one.page.get_by_role("button", name="Later").click()
    one.until("asked", CHALLENGES[7])
    one.until("items", "left open")
    one.page.get_by_role("button", name="Stand by").click()
    late.until("wanted", "Standing by.")
    one.page.get_by_role("button", name="Continue").click()
    late.until("asked", CHALLENGES[7])

    served.do(flight.interrupt)
    flying.result(10)
    alone(one, served)
    alone(late, served)
    one.page.close()
    late.page.close()


def crewed() -> View:
    """Two people; the flight engineer is to answer."""
    return replace(
        mid_list(),
        crew=(
            MemberView("Rowan", ("captain", "first officer")),
            MemberView("Hazel", ("flight engineer",), answers=True),
        ),
        role_wanted="flight engineer",
        heard=HeardView("low blower", "right", 1, "Hazel"),
        link="40 ms",
    )


def long_words() -> View:
    """Words that do not fit one line of a telephone, with no place to break."""
    word = "Antidetonantinjectionpressureregulatorisolation" * 2
    item = ItemView(word, word, word, "current", critical=True, who="flight engineer", note=word)
    return replace(
        mid_list(),
        list=ListView(word, word, "challenge and response", (item, item)),
        current=item,
        prompt=word,
        figures=(FigureView("a", word, "123456789 lb"),),
        heard=HeardView(word, "right", 1, word),
        crew=(MemberView(word, (word,), answers=True),),
    )


def test_nothing_scrolls_sideways_on_a_telephone(browser: Any, served: Served) -> None:
    one = live(browser, served, waiting(), NARROW)
    one.page.evaluate("document.getElementById('keys').hidden = false")
    for view in (
        *(mid_list(), abnormal(), choosing(), figures_changed(), finished_open()),
        *(crewed(), long_words()),
    ):
        served.do(lambda view=view: served.tablet.show(view))  # type: ignore[misc]
        one.until("asked", challenge_words(view))
        assert sideways(one) <= NARROW, view.activity
    alone(one, served)
    one.page.close()


def test_what_is_asked_is_the_largest_and_the_item_asked_is_in_sight(
    browser: Any, served: Served
) -> None:
    one = live(browser, served, figures_changed(), NARROW)
    sizes = one.page.evaluate(
        "[...document.querySelectorAll('main *')].map(e =>"
        " [e.id, parseFloat(getComputedStyle(e).fontSize)]).sort((a, b) => b[1] - a[1])"
    )
    assert sizes[0][0] == "asked"
    assert sizes[0][1] >= 32
    assert min(size for _, size in sizes) >= 16
    in_sight = one.page.evaluate(
        "(() => { const i = document.querySelector('li[aria-current]').getBoundingClientRect(),"
        " b = document.getElementById('list').getBoundingClientRect();"
        " return i.top >= b.top && i.bottom <= b.bottom })()"
    )
    assert in_sight
    one.page.close()


def test_who_answers_what_was_heard_and_what_waits_is_in_words(
    browser: Any, served: Served
) -> None:
    one = live(browser, served, crewed())
    assert one.text("who") == "To answer: Hazel, flight engineer."
    assert one.text("heard") == "Heard from Hazel “low blower”: right."
    assert one.page.locator("#crew li").all_text_contents() == [
        "Rowan, captain and first officer",
        "Hazel, flight engineer: to answer",
    ]
    assert one.text("crewlink") == "Link between the machines: 40 ms."
    assert one.text("next") == "Next list: Take-off roll."
    assert one.text("wanted") == "Answer low blower, critical"
    assert "connected to runner, delay" in one.text("link").lower()
    served.do(lambda: served.tablet.show(abnormal()))
    one.until("lead", "Waiting underneath: Climb power, at Cowl flaps.")
    served.do(lambda: served.tablet.show(figures_changed()))
    one.until("figures", "rotation speed, changed106 kt")
    one.page.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_it_follows_the_devices_preference_and_can_be_read(
    browser: Any, served: Served, scheme: str
) -> None:
    """Contrast of at least 7 to 1: WCAG 2.2, success criterion 1.4.6."""
    served.do(lambda: served.tablet.show(mid_list()))
    one = opened(browser, served.tablet.address, color_scheme=scheme)
    one.until_live()
    ink, paper = one.page.evaluate(
        "(() => { const s = getComputedStyle(document.body);"
        " return [s.color, s.backgroundColor].map(c => c.match(/\\d+/g).map(Number)) })()"
    )

    def luminance(colour: list[int]) -> float:
        parts = [c / 255 for c in colour[:3]]
        linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    light, dark = sorted((luminance(ink), luminance(paper)), reverse=True)
    assert (light + 0.05) / (dark + 0.05) >= 7
    assert (luminance(paper) > 0.5) == (scheme == "light")
    one.page.close()


def test_it_says_that_it_is_not_connected_and_comes_back_by_itself(
    browser: Any, served: Served
) -> None:
    one = live(browser, served)
    port = served.tablet.port
    one.page.locator("#code").fill(served.tablet.code)
    one.page.get_by_role("button", name="Pair").click()
    one.page.locator("#keys").wait_for(state="visible")
    served.close()
    one.until("stale", OLD, 3)
    assert one.page.locator("#old").is_visible()
    assert one.page.title() == "Not connected: Runner"
    assert all(b.is_disabled() for b in one.page.locator("button").all())
    assert one.text("asked") == "Blowers?"
    assert one.text("link") == ""
    with closing(Served(port)) as again:
        again.do(lambda: again.tablet.show(abnormal()))
        one.until_live()
        assert not one.page.locator("#old").is_visible()
        assert one.text("asked") == "Mixture, engine 3"
        # The new server knows nothing of the old one's pairing.
        one.page.locator("#pair").wait_for(state="visible")
        assert not one.page.locator("#keys").is_visible()
    one.page.close()


def test_a_run_that_hangs_with_its_link_open_is_not_shown_as_live(
    browser: Any, served: Served
) -> None:
    one = live(browser, served)
    served.loop.call_soon_threadsafe(time.sleep, 4.3)
    began = time.monotonic()
    one.until_live(False)
    assert 1.5 < time.monotonic() - began < 4.3
    assert one.page.locator("#old").is_visible()
    one.until_live()
    one.page.close()


def test_a_page_that_was_out_of_sight_is_old_until_runner_answers_again(
    browser: Any, served: Served
) -> None:
    one = live(browser, served)
    shown = one.page.evaluate(
        "(() => { const s = h => { Object.defineProperty(document, 'hidden',"
        " {value: h, configurable: true}); document.dispatchEvent(new Event('visibilitychange'));"
        " return document.body.className }; return [s(true), s(false)] })()"
    )
    assert shown == ["stale", "stale"]
    one.until_live(seconds=2)
    one.page.close()


def test_before_it_was_ever_connected_it_says_so(browser: Any, served: Served) -> None:
    page = browser.new_page()
    page.route("**/tablet.js", lambda route: route.abort())
    page.goto(served.tablet.address)
    assert page.locator("#stale").inner_text() == "Not connected yet."
    page.close()


def test_a_page_of_another_origin_reads_nothing_and_presses_nothing(
    browser: Any, served: Served
) -> None:
    stranger = ThreadingHTTPServer(("127.0.0.1", 0), SimpleHTTPRequestHandler)
    Thread(target=stranger.serve_forever, daemon=True).start()
    with closing(stranger.socket):
        page = browser.new_page()
        page.goto(f"http://127.0.0.1:{stranger.server_port}/no-such-page")
        seen = page.evaluate(
            """address => new Promise(resolve => {
              const link = new WebSocket(address.replace('http', 'ws') + '/link');
              link.onmessage = event => resolve('read ' + event.data);
              link.onclose = () => fetch(address).then(a => a.text()).then(
                text => resolve('read ' + text), () => resolve('nothing'));
            })""",
            served.tablet.address,
        )
        stranger.shutdown()
    assert seen == "nothing"
    assert served.tablet.refused["origin"] == 1
    assert served.tablet.browsers == 0
    page.close()


MARKUP = "<img src=x onerror=alert(1)><script>alert(2)</script>&amp;"


def test_markup_in_the_files_and_in_answers_stays_text(browser: Any, served: Served) -> None:
    item = ItemView(MARKUP, MARKUP, MARKUP, "current", who=MARKUP, note=MARKUP)
    view = replace(
        mid_list(),
        aircraft=MARKUP,
        procedures=MARKUP,
        list=ListView(MARKUP, MARKUP, "challenge and response", (item,), MARKUP),
        current=item,
        prompt=MARKUP,
        next_list=MARKUP,
        last_said=MARKUP,
        interrupted=(MARKUP,),
        figures=(FigureView(MARKUP, MARKUP, MARKUP),),
        heard=HeardView(MARKUP, MARKUP, 1, MARKUP),
        crew=(MemberView(MARKUP, (MARKUP,), answers=True),),
        link=MARKUP,
    )
    served.do(lambda: served.tablet.show(view))
    served.do(lambda: served.tablet.note(MARKUP, "advice"))
    served.do(lambda: served.tablet.trouble(MARKUP))
    one = opened(browser, served.tablet.address, NARROW)
    one.until_live()
    parts = "title lead asked wanted who remark heard said notes troubles items figures next crew"
    for part in parts.split():
        assert MARKUP in one.text(part), part
    assert one.page.locator("img, iframe, object").count() == 0
    assert one.page.locator("script").count() == 1
    alone(one, served)
    one.page.close()


def test_wrong_codes_are_told_apart_from_the_right_one(browser: Any, served: Served) -> None:
    one = live(browser, served)
    assert not one.page.locator("#keys").is_visible()
    wrong = "000001" if served.tablet.code == "000 000" else "000000"
    one.page.locator("#code").fill(wrong)
    one.page.get_by_role("button", name="Pair").click()
    one.until("paired", "That is not the code: wait 2 s")
    one.page.locator("#code").fill("12")
    one.page.get_by_role("button", name="Pair").click()
    one.until("paired", "wait")
    served.do(served.tablet.renew_code)
    one.page.locator("#code").fill(served.tablet.code)
    one.page.locator("#code").press("Enter")
    one.page.locator("#keys").wait_for(state="visible")
    one.page.reload()
    one.until_live()
    one.page.locator("#keys").wait_for(state="visible")
    second = opened(browser, served.tablet.address)
    second.until_live()
    assert not second.page.locator("#keys").is_visible()
    second.page.close()
    one.page.close()
