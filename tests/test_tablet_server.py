"""The second screen's server with real sockets: who is answered, who may press keys."""

from __future__ import annotations

import asyncio
import contextlib
import json
import socket
import subprocess
import sys
import urllib.error
import urllib.request
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from websockets.asyncio.client import ClientConnection, connect
from websockets.exceptions import ConnectionClosed, InvalidStatus

from runner.errors import RunnerError
from runner.figures.card import WARNING
from runner.tablet import pairing, server
from runner.tablet.server import BROWSERS, CONNECTIONS, Tablet
from screen_views import abnormal, mid_list, waiting, wrong_answer


@asynccontextmanager
async def serving(host: str = "127.0.0.1") -> AsyncIterator[Tablet]:
    tablet = Tablet(host, 0)
    tablet.show(mid_list())
    await tablet.start()
    try:
        yield tablet
    finally:
        await tablet.stop()


def link(tablet: Tablet, **options: Any) -> connect:
    options.setdefault("origin", f"http://127.0.0.1:{tablet.port}")
    return connect(f"ws://127.0.0.1:{tablet.port}/link", open_timeout=5, **options)


async def hear(browser: ClientConnection, wanted: str) -> dict[str, Any]:
    """The next message with ``wanted`` in it."""
    while True:
        message = json.loads(await asyncio.wait_for(browser.recv(), 5))
        if wanted in message:
            return dict(message)


async def tell(browser: ClientConnection, wanted: str, **message: object) -> dict[str, Any]:
    await browser.send(json.dumps(message))
    return await hear(browser, wanted)


async def http(tablet: Tablet, path: str = "/", host: str | None = None) -> tuple[int, Any, str]:
    def ask() -> tuple[int, Any, str]:
        request = urllib.request.Request(f"http://127.0.0.1:{tablet.port}{path}")
        if host is not None:
            request.add_header("Host", host)
        try:
            with urllib.request.urlopen(request, timeout=5) as answer:
                return answer.status, answer.headers, answer.read().decode()
        except urllib.error.HTTPError as error:
            return error.code, error.headers, error.read().decode()

    return await asyncio.to_thread(ask)


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[float], None]]:
    """A clock for the waits that a test puts forward itself."""
    now = [1000.0]

    class Clock:
        @staticmethod
        def monotonic() -> float:
            return now[0]

    monkeypatch.setattr(server, "time", Clock)

    def forward(seconds: float) -> None:
        now[0] += seconds

    yield forward


async def test_the_page_comes_with_its_warning_and_may_do_nothing_it_does_not_need() -> None:
    async with serving() as tablet:
        status, headers, page = await http(tablet)
        assert status == 200
        assert WARNING in page
        assert "{" not in page
        policy = headers["Content-Security-Policy"]
        assert policy.startswith("default-src 'none';")
        assert "unsafe" not in policy
        assert f"connect-src 'self' ws://127.0.0.1:{tablet.port};" in policy
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert "Server" not in headers
        for path, kind in (("/tablet.css", "text/css"), ("/tablet.js", "text/javascript")):
            status, headers, text = await http(tablet, path)
            assert (status, headers.get_content_type()) == (200, kind)
            assert "http://" not in text and "https://" not in text
        assert (await http(tablet, "/../server.py"))[0] == 404
        assert (await http(tablet, "/index.html"))[0] == 404


@pytest.mark.parametrize(
    "host",
    ["attacker.example", "127.0.0.1.attacker.example", "10.0.0.1", "", "127.0.0.1:1/x", "a b"],
)
async def test_a_name_that_is_not_this_machines_is_not_answered(host: str) -> None:
    async with serving() as tablet:
        status, _, page = await http(tablet, host=host)
        assert status in (400, 421)
        assert WARNING not in page
        with pytest.raises(InvalidStatus):
            async with link(tablet, additional_headers={"Host": host}):
                pass


@pytest.mark.parametrize(
    "origin", ["http://attacker.example", "http://127.0.0.1:1", "https://127.0.0.1", "null", None]
)
async def test_the_page_of_a_stranger_cannot_open_the_link(origin: str | None) -> None:
    async with serving() as tablet:
        with pytest.raises(InvalidStatus) as refused:
            async with link(tablet, origin=origin):
                pass
        assert refused.value.response.status_code == 403
        assert tablet.refused["origin"] == 1
        assert tablet.browsers == 0


async def test_it_listens_on_this_machine_alone_unless_told_otherwise() -> None:
    async with serving() as tablet:
        others = {a[4][0] for a in socket.getaddrinfo(socket.gethostname(), None)}
        for address in others - {"127.0.0.1", "::1"}:
            with pytest.raises(OSError):
                socket.create_connection((address, tablet.port), timeout=1).close()
        with pytest.raises(RunnerError, match=f"port {tablet.port} "):
            await Tablet("127.0.0.1", tablet.port).start()
    async with serving(host="") as tablet:
        assert (await http(tablet))[0] == 200
        assert (await http(tablet, host=socket.gethostname()))[0] == 200
        assert (await http(tablet, host="attacker.example"))[0] == 421
        with contextlib.suppress(OSError):
            socket.create_connection(("::1", tablet.port), timeout=1).close()


async def test_who_comes_late_gets_the_whole_of_now_and_then_what_changes() -> None:
    async with serving() as tablet:
        tablet.note("Rotation speed 104 kt from the table", "figures")
        tablet.trouble("the microphone is gone")
        tablet.show(wrong_answer())
        async with link(tablet) as browser:
            first = await hear(browser, "parts")
            assert first["parts"]["asked"] == "Blowers?"
            assert len(first["parts"]["items"]) == 16
            assert first["parts"]["troubles"] == ["The microphone is gone."]
            assert first["parts"]["notes"] == ["Rotation speed 104 kt from the table."]
            assert first["parts"]["said"].startswith("Expected low blower")
            tablet.over("the microphone is gone")
            assert await hear(browser, "parts") == {"parts": {"troubles": []}}
            tablet.said("Rotate.")
            assert await hear(browser, "parts") == {"parts": {"said": "Rotate."}}
            tablet.show(abnormal())
            news = await hear(browser, "parts")
            assert news["question"] > first["question"]
            assert news["parts"]["asked"] == "Mixture, engine 3"
            assert "title" not in news["parts"]


async def test_a_browser_that_does_not_read_is_not_waited_for_and_nothing_piles_up() -> None:
    async with serving() as tablet, link(tablet, max_queue=1) as slow, link(tablet) as quick_one:
        await hear(quick_one, "parts")
        for number in range(3000):
            tablet.said(f"{number} " + "x" * 2000)
            if number % 100 == 0:
                await asyncio.sleep(0)
        last = {"parts": {"said": ""}}
        while not str(last["parts"]["said"]).startswith("2999 "):
            last = await hear(quick_one, "parts")
        seen = 0
        while True:
            seen += 1
            parts = (await hear(slow, "parts"))["parts"]
            if str(parts.get("said", "")).startswith("2999 "):
                break
        assert seen < 1000


async def test_a_key_is_taken_only_from_a_paired_browser_and_for_what_it_shows() -> None:
    async with serving() as tablet:
        pressed: list[str] = []
        notes: list[str] = []
        tablet.on_key = pressed.append
        tablet.on_note = notes.append
        async with link(tablet) as browser:
            asked = (await hear(browser, "question"))["question"]
            reply = await tell(browser, "went", key="done", question=asked)
            assert reply["went"] == "Not taken: this page is not paired."
            assert pressed == []

            code = tablet.code
            reply = await tell(browser, "paired", pair=code)
            assert reply["paired"] is True and len(reply["token"]) > 40
            assert tablet.code != code and tablet.code in notes[-1]
            await tell(browser, "went", key="done", question=asked)
            assert pressed == ["done"]
            await tell(browser, "went", key="done", question=asked)
            assert pressed == ["done"]

            tablet.show(waiting())
            gone = await tell(browser, "went", key="done", question=asked)
            assert gone["went"] == "Not taken: the list had gone on already."
            assert pressed == ["done"]
            await tell(browser, "went", key="stand_by", question=asked + 1)
            assert pressed == ["done", "stand_by"]
        async with link(tablet) as again:
            assert (await tell(again, "paired", token=reply["token"]))["paired"] is True
            tablet.unpair()
            assert (await hear(again, "paired"))["paired"] is False
            assert (await tell(again, "paired", token=reply["token"]))["paired"] is False


async def test_two_taps_as_one_item_follows_another_answer_one_item() -> None:
    async with serving() as tablet:
        pressed: list[str] = []

        def done(action: str) -> None:
            pressed.append(action)
            tablet.show(waiting() if len(pressed) % 2 else mid_list())

        tablet.on_key = done
        async with link(tablet) as browser:
            asked = (await hear(browser, "question"))["question"]
            await tell(browser, "paired", pair=tablet.code)
            for _ in range(4):
                await browser.send(json.dumps({"key": "done", "question": asked}))
            assert (await tell(browser, "echo", ask=1))["echo"] == 1
        assert pressed == ["done"]


async def test_wrong_codes_slow_down_and_stop_for_all_browsers_together(
    quick: Callable[[float], None],
) -> None:
    async with serving() as tablet:
        notes: list[str] = []
        tablet.on_note = notes.append
        wrong = "000 001" if tablet.code == "000 000" else "000 000"
        for number in range(pairing.TRIES - 1):
            async with link(tablet) as browser:
                wait = int(pairing.FIRST_WAIT) * 2**number
                told = (await tell(browser, "pairing", pair=wrong))["pairing"]
                assert told == f"That is not the code: wait {wait} s, then try again."
            async with link(tablet) as another:
                told = (await tell(another, "pairing", pair=tablet.code))["pairing"]
                assert told.startswith("A wrong code was typed: wait")
                quick(wait - 0.5)
                told = (await tell(another, "pairing", pair=tablet.code))["pairing"]
                assert told == "A wrong code was typed: wait 1 s, then try again."
            quick(1)
        async with link(tablet) as browser:
            await tell(browser, "pairing", pair=wrong)
            quick(100_000)
            told = (await tell(browser, "pairing", pair=tablet.code))["pairing"]
            assert told.startswith("Too many wrong codes")
            assert "Wrong codes came too often" in notes[-1]
            tablet.renew_code()
            assert (await tell(browser, "paired", pair=tablet.code))["paired"] is True


async def test_a_token_from_another_address_opens_nothing() -> None:
    one = pairing.Pairing()
    token = one.try_code(one.shown, "192.0.2.5", 0.0)
    assert one.knows(token, "192.0.2.5")
    assert not one.knows(token, "192.0.2.6")
    assert not one.knows(token[:-1], "192.0.2.5")
    assert not one.knows("ä", "192.0.2.5")


@pytest.mark.parametrize(
    "message",
    [
        "{",
        "[]",
        "1",
        "null",
        b"\x00\xff",
        '{"key": "end", "question": 1}',
        '{"key": "done"}',
        '{"pair": 123456}',
        '{"ask": "x"}',
        '{"ask": 1, "more": 2}',
        "[" * 500,
        '{"pair": "' + "1" * 2000 + '"}',
    ],
)
async def test_what_is_no_message_of_the_page_ends_the_link_and_not_the_run(
    message: str | bytes,
) -> None:
    async with serving() as tablet:
        pressed: list[str] = []
        tablet.on_key = pressed.append
        async with link(tablet) as bad:
            await hear(bad, "parts")
            await bad.send(message)
            with pytest.raises(ConnectionClosed):
                await hear(bad, "nothing")
        async with link(tablet) as good:
            assert "parts" in await hear(good, "parts")
        assert pressed == []


async def test_a_flood_and_one_browser_too_many_are_turned_away() -> None:
    async with serving() as tablet, contextlib.AsyncExitStack() as stack:
        for _ in range(BROWSERS):
            browser = await stack.enter_async_context(link(tablet))
            await hear(browser, "parts")
        async with link(tablet) as more:
            with pytest.raises(ConnectionClosed) as closed:
                await more.recv()
        assert closed.value.rcvd is not None
        assert closed.value.rcvd.code == 1013
        with pytest.raises(ConnectionClosed):
            for number in range(1000):
                await tell(browser, "echo", ask=number)
        assert tablet.refused["too many messages"] == 1


async def test_a_thousand_connections_that_say_nothing_leave_the_rest_of_the_program_its_files(
    capfd: pytest.CaptureFixture[str],
) -> None:
    async with serving() as tablet, link(tablet) as browser:
        await hear(browser, "parts")
        loose = []
        for _ in range(300):
            one = socket.socket()
            one.setblocking(False)
            one.connect_ex(("127.0.0.1", tablet.port))
            loose.append(one)
            await asyncio.sleep(0)
        await asyncio.sleep(0.2)
        assert tablet._server is not None
        assert len(tablet._server.handler_tasks) <= CONNECTIONS + 1
        tablet.said("Still here.")
        assert (await hear(browser, "parts"))["parts"]["said"] == "Still here."
        for one in loose:
            with contextlib.suppress(OSError):
                one.send(b"POST / HTTP/1.1\r\n\r\n\x00\x00")
            one.close()
        await asyncio.sleep(0.1)
    out = capfd.readouterr()
    assert out.out + out.err == ""


async def test_a_key_that_fails_in_the_run_does_not_fail_unseen() -> None:
    async with serving() as tablet:
        seen: list[dict[str, Any]] = []
        asyncio.get_running_loop().set_exception_handler(lambda _, context: seen.append(context))

        def fails(action: str) -> None:
            raise LookupError(action)

        tablet.on_key = fails
        async with link(tablet) as browser:
            asked = (await hear(browser, "question"))["question"]
            await tell(browser, "paired", pair=tablet.code)
            await tell(browser, "went", key="later", question=asked)
        assert [type(context["exception"]) for context in seen] == [LookupError]


async def test_the_same_question_keeps_its_number_while_other_things_change() -> None:
    async with serving() as tablet, link(tablet) as browser:
        await hear(browser, "question")
        tablet.show(replace(mid_list(), muted=True))
        assert "question" not in await hear(browser, "parts")


def test_runner_fly_serves_the_running_list_beside_its_own_screen(tmp_path: Path) -> None:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    flight = subprocess.Popen(
        [
            *(sys.executable, "-u", "-m", "runner", "fly", "--phase", "before-takeoff"),
            *("--set", "gross_weight=74310lb", "--screen", "plain", "--speak", "none"),
            *("--listen", "text:-", "--logbook", str(tmp_path / "logbook.sqlite3")),
            *("--tablet", "here", "--tablet-port", str(port)),
        ],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert flight.stdout is not None
        line = next(line for line in flight.stdout if "The list is at" in line)
        assert f"http://127.0.0.1:{port}" in line
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=10) as page:
            assert page.status == 200
            assert "default-src 'none'" in page.headers["Content-Security-Policy"]
    finally:
        flight.communicate("", timeout=20)
    assert flight.returncode == 1
