"""The full screen: what is asked now first, the list, the figures and the flight around it."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, ClassVar, Literal

from textual.app import App, ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.events import Resize
from textual.theme import Theme

from runner.engine.events import KeyAction
from runner.engine.view import View
from runner.screen.challenge import Challenge
from runner.screen.exchange import Exchange
from runner.screen.figures import Figures, FiguresView, Outlook
from runner.screen.items import Items
from runner.screen.keys import IN_A_DRILL, KEYS, NEXT_WORDING, Key
from runner.screen.legend import Legend
from runner.screen.menu import ListsMenu
from runner.screen.microphone import Microphone
from runner.screen.notices import Notices
from runner.screen.place import Aboard, Phases, Title
from runner.screen.question import Question

if TYPE_CHECKING:
    from textual.widgets import Input

    from runner.screen.entry import Purpose

Look = Literal["terminal", "paper", "night"]

INKS: dict[Look, Theme] = {
    "terminal": Theme("terminal", primary="#808080"),
    "paper": Theme(
        "paper", primary="#2b2722", foreground="#2b2722", background="#f6f1e4", dark=False
    ),
    "night": Theme("night", primary="#d9d2c3", foreground="#d9d2c3", background="#171614"),
}

ROOMY = (104, 28)
"""From this size on the figures stand beside the list and there is space around everything."""

SHORT = 18
TINY = 11
"""Below these heights only the list and the challenge, then only the challenge, are shown."""


def _no_key(action: KeyAction, argument: str, argument2: str) -> None:
    """Nobody listens to keys yet."""


def _no_text(text: str) -> None:
    """Nobody listens to typed answers yet."""


def _no_talk() -> None:
    """Nobody listens to push-to-talk yet."""


def _no_chart(number: int, width: int, height: int) -> tuple[str, ...]:  # noqa: ARG001
    """Nobody draws charts yet."""
    return ()


class FullScreen(App[None]):
    """The screen of a run.

    ``drill``: the keys have their words of a drill. ``look`` is the terminal's own ink and
    paper, or one of ours. What the pilot does comes through ``on_key``, ``on_text`` (a typed
    answer) and ``on_talk`` (push-to-talk is switched over).
    """

    ENABLE_COMMAND_PALETTE = False
    AUTO_FOCUS = None
    TITLE = "Runner"
    CSS_PATH = "full.tcss"
    BINDINGS: ClassVar[list[BindingType]] = [
        *(
            Binding(name, f"press('{key.does}')", key.label, priority=name.startswith("ctrl"))
            for key in KEYS
            for name in key.keys.split(",")
        ),
        *(Binding(str(digit), f"digit({digit})", "choose") for digit in range(10)),
        Binding("escape", "close", "close"),
    ]

    def __init__(
        self,
        *,
        look: Look = "terminal",
        headless: bool = False,
        size: tuple[int, int] | None = None,
        drill: bool = False,
    ) -> None:
        super().__init__(ansi_color=look == "terminal")
        self.register_theme(INKS[look])
        self.theme = look
        self.on_key: Callable[[KeyAction, str, str], None] = _no_key
        self.on_text: Callable[[str], None] = _no_text
        self.on_talk: Callable[[], None] = _no_talk
        self.on_chart: Callable[[int, int, int], tuple[str, ...]] = _no_chart
        self._chart = -1
        self._own_ink = look == "terminal"
        self._headless = headless
        self._forced_size = size
        self._view = View("", "")
        self._troubles: set[str] = set()
        self._confirming: Key | None = None
        self._title = Title(self._view)
        self._microphone = Microphone(self._view)
        self._phases = Phases(self._view)
        self._aboard = Aboard(self._view)
        self._challenge = Challenge(self._view)
        self._exchange = Exchange(self._view)
        self._notices = Notices(self._view)
        self._items = Items(self._view)
        self._menu = ListsMenu(self._view)
        self._figures = Figures(self._view)
        self._reckoning = FiguresView(self._view)
        self._outlook = Outlook(self._view)
        self._question = Question(self._view)
        self._legend = Legend(self._view)
        self._drill = drill
        if drill:
            self._legend.words = IN_A_DRILL

    def compose(self) -> ComposeResult:
        """The parts from top to bottom."""
        with Horizontal(id="head"):
            yield self._title
            yield self._microphone
        yield self._phases
        yield self._aboard
        yield self._challenge
        yield self._exchange
        yield self._notices
        with Horizontal(id="middle"):
            yield self._items
            yield self._menu
            yield self._reckoning
            yield self._figures
        yield self._outlook
        yield self._question
        yield self._legend

    def on_mount(self) -> None:
        """Take the terminal's own colours where they are wanted, and the first size."""
        self.screen.set_class(self._own_ink, "terminal")
        self._fit(self.size.width, self.size.height)

    def on_resize(self, event: Resize) -> None:
        """Give way at the sides, then above and below, as room gets short."""
        self._fit(event.size.width, event.size.height)

    def _fit(self, width: int, height: int) -> None:
        wide = width >= ROOMY[0] and height >= ROOMY[1]
        self.screen.set_class(wide, "wide")
        self.screen.set_class(height < SHORT, "short")
        self.screen.set_class(height < TINY, "tiny")
        self._outlook.beside = wide
        self._cover()
        self.screen.set_class(self._chart >= 0 and not wide, "charting")
        cramped = height < SHORT or (self._chart >= 0 and not wide)
        self._challenge.large_lines = 2 if wide else 0 if cramped else 1
        self._challenge.bare = height < TINY
        for panel in (self._exchange, self._notices):
            panel.covered = height < TINY
            panel.redraw()
        self._challenge.redraw()

    def _cover(self) -> None:
        opened = self.screen.has_class("listing") or self.screen.has_class("reckoning")
        short = self.screen.has_class("short")
        self._outlook.covered = short or (opened and not self._outlook.beside)
        self._outlook.redraw()

    async def run(self) -> None:  # type: ignore[override]
        """Show the screen until the run is ended by key or by ``stop``."""
        await self.run_async(headless=self._headless, size=self._forced_size, mouse=False)

    def stop(self) -> None:
        """Take the screen away; ``run`` returns."""
        if self.is_running:
            self.exit()

    def show(self, view: View) -> None:
        """Show ``view``; only the parts that changed are drawn again."""
        self._view = view
        for panel in (
            self._title,
            self._microphone,
            self._phases,
            self._aboard,
            self._challenge,
            self._exchange,
            self._notices,
            self._items,
            self._menu,
            self._figures,
            self._reckoning,
            self._outlook,
            self._legend,
        ):
            panel.show(view)

    def said(self, text: str) -> None:
        """Runner begins to say ``text``."""
        self._exchange.say(text)
        self._notices.say(text)

    def note(self, text: str, kind: str) -> None:
        """A line that is not spoken; what was heard and done is in the view already."""
        if kind in ("advice", "figures"):
            self._notices.put(text)
            self._reckoning.explain(text)

    def level(self, dbfs: float, state: str) -> None:
        """The microphone's level in dB below full scale, and its state."""
        self._microphone.level(dbfs, state)

    def trouble(self, text: str, anew: bool = False) -> None:
        """Something does not work: one quiet line, once, or ``anew`` where it has come about
        another time."""
        if anew or text not in self._troubles:
            self._troubles.add(text)
            self._notices.put(text, trouble=True)

    def over(self, text: str) -> None:
        """That trouble is over: it need not be shown, and is told again when it comes again."""
        self._troubles.discard(text)
        self._notices.over(text)

    def action_press(self, does: str) -> None:
        """One of the keys of the table was pressed."""
        key = next(key for key in KEYS if key.does == does)
        self._notices.clear()
        if self._confirming is not None:
            asked, self._confirming = self._confirming, None
            self._question.ask("")
            self._legend.display = True
            confirmed = does == "affirm" or (does == "end" and asked.does == "end")
            if confirmed and asked.action is not None:
                self.on_key(asked.action, "", "")
                if asked.does == "end":
                    self.exit()
            return
        if key.does == "end" and self._view.finished:
            self.on_key("end", "", "")
            self.exit()
        elif key.confirm:
            if self.query("#entry"):
                self._shut()
            self._confirming = key
            self._question.ask("Stop the drill?" if self._drill else key.confirm)
            self._legend.display = False
        elif does == "why" and self.screen.has_class("reckoning"):
            self.on_key("why", self._reckoning.name, "")
        elif key.action is not None:
            self.on_key(key.action, "", "")
        else:
            self._own(does)

    def _own(self, does: str) -> None:
        match does:
            case "talk":
                self.on_talk()
            case "mute":
                self.on_key("unmute" if self._view.muted else "mute", "", "")
            case "wording":
                self.on_key(NEXT_WORDING.get(self._view.wordiness, "full"), "", "")
            case "figures":
                if self._chart < 0:
                    self.screen.toggle_class("reckoning")
                self._end_chart()
            case "chart":
                self._next_chart()
            case "type" | "set" | "lists":
                self._open(does)
            case "earlier" | "further":
                self._look(-1 if does == "earlier" else 1)

    def _next_chart(self) -> None:
        """The next of the aircraft's pictures in place of the list."""
        self._chart += 1
        self.screen.add_class("reckoning")
        self._fit(self.size.width, self.size.height)
        self.call_after_refresh(self._draw_chart)

    def _draw_chart(self) -> None:
        if self._chart >= 0:
            size = self._reckoning.content_size
            self._reckoning.draw(self.on_chart(self._chart, size.width, size.height))

    def _end_chart(self) -> None:
        self._chart = -1
        self._reckoning.draw(())
        self._fit(self.size.width, self.size.height)

    def _look(self, rows: int) -> None:
        if self.screen.has_class("listing"):
            self._menu.look(rows)
        elif self.screen.has_class("reckoning"):
            self._reckoning.look(rows)
        else:
            self._items.look(rows)

    def action_digit(self, digit: int) -> None:
        """A number key: a choice, or the beginning of a number to type."""
        self._notices.clear()
        if self._confirming is not None:
            self.action_close()
        elif 1 <= digit <= len(self._view.choices):
            self.on_key("answer", self._view.choices[digit - 1], "")
        elif self._view.activity == "asking which engine":
            self.on_text(f"engine {digit}")
        elif self._view.wants_number:
            self._open("type", str(digit))

    def action_close(self) -> None:
        """Close whatever was opened last."""
        self._notices.clear()
        if self._confirming is not None:
            self._confirming = None
            self._question.ask("")
            self._legend.display = True
        elif self.query("#entry"):
            self._shut()
        else:
            self.screen.remove_class("reckoning")
            self._end_chart()

    def _open(self, purpose: Purpose, text: str = "") -> None:
        from runner.screen.entry import Entry

        if self.query("#entry"):
            return
        if purpose == "lists":
            self._menu.search("")
            self.screen.add_class("listing")
            self._cover()
        self._legend.display = False
        self.screen.mount(Entry(purpose, text, lambda typed: self._typed(purpose, typed)))

    def _shut(self) -> None:
        self.query("#entry").remove()
        self.screen.remove_class("listing")
        self._cover()
        self._legend.display = True

    def on_input_changed(self, event: Input.Changed) -> None:
        """What is typed while the lists are open searches them."""
        if self.screen.has_class("listing"):
            self._menu.search(event.value)

    def _typed(self, purpose: Purpose, typed: str) -> None:
        # What was typed may be wrong in the same way twice, and is told twice.
        self._troubles.clear()
        call = self._menu.call() if purpose == "lists" else None
        self._shut()
        if call is not None:
            self.on_key("call", call.id, call.argument)
        elif purpose == "set" and typed:
            name, equals, value = typed.partition("=")
            if equals and name.strip() and value.strip():
                self.on_key("set", name.strip(), value.strip())
            else:
                self._notices.put(f"“{typed}” is not name=value, such as gross_weight=74310lb")
        elif purpose == "type" and typed:
            self.on_text(typed)
