"""The server of the second screen: one page, and a link over which it is kept up to date.

The pages and the link share one port. (``textual-serve`` starts a program for each browser
and its page asks another host for a font; this shows the one run that is going on.)

A browser is an observer of the running flight. It reads; it presses keys only once paired,
and then only about the question that it shows: a key that was pressed as the run went on is
not taken for the next item. How fresh the page is it finds out by asking: the echo comes
after everything that was told before it, through the same link.

What passes is not encrypted, as a browser would want a certificate for it: who can listen
on the network can read the list, the code and the key presses. Serve it to a network only
where everybody on it may. Key presses are taken only from the address that was paired.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import logging
import time
from collections import Counter, deque
from collections.abc import Callable, Sequence
from http import HTTPStatus
from typing import Final, Literal, cast, get_args

from websockets.asyncio.server import Server, ServerConnection, serve
from websockets.exceptions import ConnectionClosed
from websockets.http11 import Request, Response

from runner.engine.view import View
from runner.screen.wording import sentence
from runner.tablet.browser import Browser
from runner.tablet.guard import LOOPBACK, headers, host_of, own_names, plain_address, same_page
from runner.tablet.listening import listen, network_address
from runner.tablet.pages import read_pages
from runner.tablet.pairing import DIGITS, Pairing
from runner.tablet.words import Parts, parts_of, question_of

PORT = 47811
"""Where the page is found unless told otherwise."""

TabletKey = Literal["done", "later", "say_again", "stand_by", "resume", "go_back"]
"""What a paired browser may do."""

BROWSERS: Final = 16
"""Browsers that show the run at once."""

CONNECTIONS: Final = 64
"""Connections at once, of whatever kind; one that is beyond is cut without a word."""

LONGEST: Final = 512
"""Bytes of one message from a browser."""

NOTES, TROUBLES = 3, 3
"""So many of the newest lines are shown."""

AGAIN: Final = 1.0
"""Seconds in which the same key for the same question counts once."""

_LINK = "/link"


class _Connection(ServerConnection):
    """A connection that is cut at once where there are too many."""

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        super().connection_made(transport)
        if len(self.server.handler_tasks) > CONNECTIONS:
            cast(asyncio.Transport, transport).abort()


def _quiet() -> logging.Logger:
    """A log that nobody reads: what strangers send must not be printed over the screen."""
    logger = logging.Logger("runner.tablet")
    logger.addHandler(logging.NullHandler())
    return logger


def _no_key(action: TabletKey) -> None:
    """Nobody listens to keys yet."""


def _no_note(text: str) -> None:
    """Nobody shows the code yet."""


class Tablet:
    """The second screen. ``host`` is this machine alone unless given; "" is every network.

    ``names`` are further names under which browsers find this machine, besides its addresses
    and its own name. ``on_key`` is called with what a paired browser pressed, ``on_note``
    with lines for the main screen: the address, the code, who paired, that codes stopped.
    ``refused`` counts what was turned away, by reason. All is called in one event loop.
    """

    def __init__(
        self, host: str = "127.0.0.1", port: int = PORT, names: Sequence[str] = ()
    ) -> None:
        self.host = "" if host in ("0.0.0.0", "::") else host
        self.port = port
        self.on_key: Callable[[TabletKey], None] = _no_key
        self.on_note: Callable[[str], None] = _no_note
        self.refused: Counter[str] = Counter()
        self._names = frozenset(name.lower() for name in names)
        self._pairing = Pairing()
        self._browsers: set[Browser] = set()
        self._server: Server | None = None
        self._pages = read_pages()
        self._view = View("", "")
        self._said = ""
        self._notes: deque[str] = deque(maxlen=NOTES)
        self._troubles: deque[str] = deque(maxlen=TROUBLES)
        self._parts: Parts | None = None
        self._asked: object = None
        self._question = 0
        self._pressed: tuple[int, str, float] = (-1, "", 0.0)

    @property
    def code(self) -> str:
        """The code that lets the next browser press keys, in two groups of three digits."""
        return self._pairing.shown

    @property
    def browsers(self) -> int:
        """How many browsers show the run."""
        return len(self._browsers)

    @property
    def address(self) -> str:
        """What to type into a browser: on the network where it is served to one."""
        host = self.host or network_address()
        return f"http://{f'[{host}]' if ':' in host else host}:{self.port}"

    async def start(self) -> None:
        """Begin to serve. RunnerError where the address or the port cannot be had."""
        listening = listen(self.host, self.port)
        self.port = listening.getsockname()[1]
        self._server = await serve(
            self._serve,
            sock=listening,
            process_request=self._answer,
            create_connection=_Connection,
            logger=_quiet(),
            server_header=None,
            compression=None,
            max_size=LONGEST,
            max_queue=4,
            open_timeout=5,
            ping_interval=5,
            ping_timeout=10,
            close_timeout=1,
        )
        self.on_note(f"The list is at {self.address}; code to press keys from there: {self.code}")

    async def stop(self) -> None:
        """Stop serving; every page says that it is not connected."""
        if self._server is not None:
            self._server.close()
            await self._server.wait_closed()
            self._server = None

    def renew_code(self) -> None:
        """A new code with all its tries, where wrong ones have stopped the old one."""
        self._pairing.renew()
        self.on_note(f"Code to press keys from a browser: {self.code}")

    def unpair(self) -> None:
        """No browser may press keys any more; a new code."""
        self._pairing.forget()
        for browser in self._browsers:
            browser.paired = False
            browser.reply(paired=False)
        self.on_note(f"No browser may press keys now; code: {self.code}")

    def show(self, view: View) -> None:
        """Show ``view`` on every page."""
        if view.last_said != self._view.last_said:
            self._said = view.last_said
        self._view = view
        asked = question_of(view)
        if asked != self._asked:
            self._asked = asked
            self._question += 1
        self._changed()

    def said(self, text: str) -> None:
        """Runner begins to say ``text``."""
        self._said = text
        self._changed()

    def note(self, text: str, kind: str) -> None:
        """A line that is not spoken; what was heard and done is in the view already."""
        if kind in ("advice", "figures"):
            self._notes.append(sentence(text))
            self._changed()

    def trouble(self, text: str, anew: bool = False) -> None:
        """Something does not work; ``anew`` where it has come about another time."""
        told = sentence(text)
        if anew and told in self._troubles:
            self._troubles.remove(told)
        if told not in self._troubles:
            self._troubles.append(told)
            self._changed()

    def over(self, text: str) -> None:
        """That trouble is over."""
        if (told := sentence(text)) in self._troubles:
            self._troubles.remove(told)
            self._changed()

    def _changed(self) -> None:
        self._parts = None
        for browser in self._browsers:
            browser.wake.set()

    def _now(self) -> Parts:
        # Put into words only when somebody is there to be told.
        if self._parts is None:
            self._parts = {
                **parts_of(self._view),
                "said": self._said,
                "notes": list(self._notes),
                "troubles": list(self._troubles),
            }
        return self._parts

    def _answer(self, connection: ServerConnection, request: Request) -> Response | None:
        """The page or one of its files; nothing where the link may be opened."""
        host = host_of(request.headers.get_all("Host"), self._hosts(connection))
        if not host:
            return self._refuse(connection, HTTPStatus.MISDIRECTED_REQUEST, "host")
        if request.path == _LINK:
            if not same_page(request.headers.get_all("Origin"), host):
                return self._refuse(connection, HTTPStatus.FORBIDDEN, "origin")
            return None
        page = self._pages.texts.get(request.path)
        if page is None:
            return self._refuse(connection, HTTPStatus.NOT_FOUND, "path")
        text, kind = page
        response = connection.respond(HTTPStatus.OK, text)
        del response.headers["Content-Type"]
        response.headers["Content-Type"] = kind
        response.headers.update(headers(host))
        return response

    def _refuse(self, connection: ServerConnection, status: HTTPStatus, why: str) -> Response:
        self.refused[why] += 1
        return connection.respond(status, f"{status.phrase}.\n")

    def _hosts(self, connection: ServerConnection) -> frozenset[str]:
        own = frozenset({connection.local_address[0]})
        return (
            LOOPBACK | own if self.host in LOOPBACK else LOOPBACK | own | own_names() | self._names
        )

    async def _serve(self, connection: ServerConnection) -> None:
        if len(self._browsers) >= BROWSERS:
            self.refused["too many browsers"] += 1
            await connection.close(1013, f"{BROWSERS} browsers show the list already.")
            return
        address = plain_address(connection.remote_address[0])
        browser = Browser(connection, address, self._pages.version)
        self._browsers.add(browser)
        telling = asyncio.create_task(self._tell(browser))
        try:
            async for message in connection:
                if not browser.may_send():
                    self.refused["too many messages"] += 1
                    await connection.close(1008, "too many messages")
                    return
                if not self._take(browser, message):
                    self.refused["message"] += 1
                    await connection.close(1008, "not a message of the page")
                    return
        except ConnectionClosed:
            pass
        finally:
            self._browsers.discard(browser)
            telling.cancel()

    async def _tell(self, browser: Browser) -> None:
        with contextlib.suppress(ConnectionClosed):
            while True:
                browser.wake.clear()
                news = browser.news(self._now(), self._question)
                if news:
                    await browser.socket.send(news)
                else:
                    await browser.wake.wait()

    def _take(self, browser: Browser, data: str | bytes) -> bool:
        """Do what a message says; whether it is one of ours."""
        try:
            message = json.loads(data) if isinstance(data, str) else None
        except (ValueError, RecursionError):
            return False
        match message:
            case {"ask": int() | float() as when, **rest} if not rest:
                browser.reply(echo=when)
            case {"pair": str() as code, **rest} if not rest:
                self._pair(browser, code)
            case {"token": str() as token, **rest} if not rest:
                browser.paired = self._pairing.knows(token, browser.address)
                browser.reply(paired=browser.paired)
            case {"key": str() as key, "question": int() as question, **rest} if not rest:
                if key not in get_args(TabletKey):
                    return False
                browser.reply(went=self._press(browser, cast(TabletKey, key), question))
            case _:
                return False
        return True

    def _pair(self, browser: Browser, typed: str) -> None:
        pairing, now = self._pairing, time.monotonic()
        if pairing.stopped:
            browser.reply(pairing="Too many wrong codes: ask for a new one at the main screen.")
            return
        if pairing.wait(now) > 0:
            seconds = int(pairing.wait(now)) + 1
            browser.reply(pairing=f"A wrong code was typed: wait {seconds} s, then try again.")
            return
        if sum(character.isdecimal() for character in typed) != DIGITS:
            browser.reply(pairing=f"The code has {DIGITS} digits.")
            return
        token = pairing.try_code(typed, browser.address, now)
        if token:
            browser.paired = True
            browser.reply(token=token, paired=True, pairing="", went="This page may press keys.")
            self.on_note(f"The browser at {browser.address} may press keys; next code: {self.code}")
            return
        self.refused["code"] += 1
        if pairing.stopped:
            browser.reply(pairing="Too many wrong codes: ask for a new one at the main screen.")
            self.on_note(
                "Wrong codes came too often, the last from "
                f"{browser.address}: no browser can be paired until there is a new code"
            )
        else:
            seconds = round(pairing.wait(now))
            browser.reply(pairing=f"That is not the code: wait {seconds} s, then try again.")

    def _press(self, browser: Browser, key: TabletKey, question: int) -> str:
        """Pass a key on if it may be; what came of it, in words."""
        if not browser.paired:
            self.refused["key of a browser not paired"] += 1
            return "Not taken: this page is not paired."
        if question != self._question:
            self.refused["key of an earlier question"] += 1
            return "Not taken: the list had gone on already."
        now = time.monotonic()
        if self._pressed[:2] == (question, key) and now - self._pressed[2] < AGAIN:
            return ""
        self._pressed = (question, key, now)
        try:
            self.on_key(key)
        except Exception as error:
            # The server would keep it to itself; the flight's loop is told as of any other key.
            asyncio.get_running_loop().call_exception_handler(
                {"message": f"the key {key} of the second screen failed", "exception": error}
            )
        return ""
