"""The main screen with the tablet beside it: one screen to the flight."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from runner.engine.events import KeyAction
from runner.engine.view import View
from runner.stations import Screen
from runner.tablet.server import Tablet


class Beside:
    """A screen that shows everything on ``main`` and on ``tablet``.

    What the pilot does comes from the main screen, and the few keys of a paired browser go
    the same way. The microphone's level is the main screen's alone. ``stop`` ends the main
    screen; whoever started the tablet stops it.
    """

    def __init__(self, main: Screen, tablet: Tablet) -> None:
        self._main = main
        self.tablet = tablet
        tablet.on_note = lambda text: main.note(text, "advice")

    @property
    def on_key(self) -> Callable[[KeyAction, str, str], None]:
        """What is called with a key."""
        return self._main.on_key

    @on_key.setter
    def on_key(self, key: Callable[[KeyAction, str, str], None]) -> None:
        self._main.on_key = key
        self.tablet.on_key = lambda action: key(action, "", "")

    @property
    def on_text(self) -> Callable[[str], None]:
        """What is called with a typed answer."""
        return self._main.on_text

    @on_text.setter
    def on_text(self, text: Callable[[str], None]) -> None:
        self._main.on_text = text

    @property
    def on_talk(self) -> Callable[[], None]:
        """What is called when push-to-talk is switched over."""
        return self._main.on_talk

    @on_talk.setter
    def on_talk(self, talk: Callable[[], None]) -> None:
        self._main.on_talk = talk

    @property
    def on_chart(self) -> Callable[[int, int, int], tuple[str, ...]]:
        """What is called for a chart in characters."""
        return self._main.on_chart

    @on_chart.setter
    def on_chart(self, chart: Callable[[int, int, int], tuple[str, ...]]) -> None:
        self._main.on_chart = chart

    async def run(self) -> None:
        """Run the main screen."""
        await self._main.run()

    def stop(self) -> None:
        """End the main screen."""
        self._main.stop()

    def show(self, view: View) -> None:
        """Show ``view`` on both."""
        link = view.link
        if not self.tablet.browsers:
            code = f"The list is at {self.tablet.address}, code {self.tablet.code}"
            link = f"{link}; {code}" if link else code
        self._main.show(replace(view, link=link))
        self.tablet.show(view)

    def said(self, text: str) -> None:
        """Runner begins to say ``text``."""
        self._main.said(text)
        self.tablet.said(text)

    def note(self, text: str, kind: str) -> None:
        """A line that is not spoken."""
        self._main.note(text, kind)
        self.tablet.note(text, kind)

    def level(self, dbfs: float, state: str) -> None:
        """The microphone's level."""
        self._main.level(dbfs, state)

    def trouble(self, text: str, anew: bool = False) -> None:
        """Something does not work."""
        self._main.trouble(text, anew)
        self.tablet.trouble(text, anew)

    def over(self, text: str) -> None:
        """That trouble is over."""
        self._main.over(text)
        self.tablet.over(text)
