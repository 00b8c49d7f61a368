"""What the pilot does at this machine: answers heard or typed, keys and buttons.

What was said is judged and told apart from what is the link's or the engineer's; the rest
becomes an event of the run, or a line that says why it counts for nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import cast, get_args

from runner.clock import Clock, moments
from runner.delivery import MILLISECONDS_A_WORD, Delivery
from runner.engine.crewing import ANSWERS
from runner.engine.effects import Listen
from runner.engine.events import Event, Heard, KeyAction, Keyed, Proposal, Verdict
from runner.engine.state import State
from runner.engine.turns import by_name, whose
from runner.engineer import Engineer
from runner.instruments import Instruments
from runner.link import Link
from runner.phrasing.style import VoiceStyle
from runner.stations import Screen, Voice
from runner.trace import Trace
from runner.voice.judge import judge
from runner.voice.text import propose_text

UNASKED = "nothing counts now; answer again when it is asked"
"""What is said of an answer that comes before its question."""


class Pilot:
    """The question that is open to the pilot, and what comes of words and keys. ``voice`` is
    None where no microphone listens; ``state`` gives the run as it stands, ``post`` takes an
    event in."""

    def __init__(
        self,
        style: VoiceStyle,
        screen: Screen,
        voice: Voice | None,
        clock: Clock,
        trace: Trace,
        *,
        delivery: Delivery,
        instruments: Instruments,
        engineer: Engineer,
        link: Link,
        state: Callable[[], State],
        post: Callable[[Event], None],
    ) -> None:
        self._style = style
        self._screen = screen
        self._voice = voice
        self._clock = clock
        self._trace = trace
        self._delivery = delivery
        self._instruments = instruments
        self._engineer = engineer
        self._link = link
        self._state = state
        self._post = post
        self._talking = False
        self.window: Listen | None = None
        """What the open question can be answered with, None where there is none."""

    def listen(self) -> None:
        """Have the voice listen for what can be said now."""
        if self._voice is not None and self.window is not None:
            self._voice.listen(self._with_phrases(self.window))

    def close(self, window: int) -> None:
        """A question is not open any more."""
        if self.window is not None and self.window.window <= window:
            self.window = None
        if self._voice is not None:
            self._voice.close(window)

    def shut(self) -> None:
        """No question is open any more."""
        if self.window is not None:
            self.close(self.window.window)

    def typed(self, text: str) -> None:
        """An answer typed, or read from a script, judged like one that was heard."""
        member, text = by_name(self._state(), text)
        began = self._clock.now()
        if not self._delivery.fed:
            self._clock.spend(MILLISECONDS_A_WORD * len(text.split()))
        window = self._with_phrases(self.window or Listen(0, ()))
        proposals = propose_text(text, window, self._style)
        verdict = judge(proposals, window)
        if self._for_the_link(verdict):
            return
        if self.window is None:
            self._screen.trouble("nothing is being asked now")
            return
        if self._unasked:
            self._screen.trouble(UNASKED)
            return
        now = self._clock.now()
        self._take(now, window.window, (began, now), proposals, verdict, member)

    def heard(
        self,
        window: int,
        began: float,
        ended: float,
        proposals: Sequence[Proposal],
        verdict: Verdict,
        member: str = "",
    ) -> None:
        """The voice heard an utterance; times are ``time.monotonic()`` seconds.

        ``member`` is whose microphone it was, where several at this machine have one each.
        """
        self._trace.mark("heard", ended=ended, window=window)
        if self._for_the_link(verdict):
            return
        if self._unasked and self.window is not None and window == self.window.window:
            self._screen.trouble(UNASKED)
            return
        now = self._clock.now()
        first, last = moments(self._clock, began, ended)
        self._take(now, window, (first, last), proposals, verdict, member)

    def key(self, action: KeyAction, argument: str = "", argument2: str = "") -> None:
        """A key or a button; ``set`` gives an input a new value (``argument2`` as written),
        ``why`` shows the working of the figure ``argument``, or of the current item's."""
        if action == "set":
            self._engineer.set(argument, argument2)
        elif action in ("continue_alone", "take_over"):
            if not self._link.takes(f"link:{action}"):
                self._screen.trouble(f"{action.replace('_', ' ')}: makes no sense now")
        elif action == "why" and argument:
            self._engineer.explain(argument)
        elif action in ANSWERS and self._unasked:
            self._screen.trouble(UNASKED)
        else:
            who = whose(self._state())
            self._post(Keyed(self._clock.now(), action, argument, argument2, who))

    def button(self, name: str, pressed: bool) -> None:
        """A controller's button; push-to-talk is the voice's own affair."""
        if pressed and name in get_args(KeyAction):
            self.key(cast(KeyAction, name))

    def talk(self) -> None:
        """The talk key, which a terminal sees go down and never up, so it toggles."""
        if self._voice is not None:
            self._talking = not self._talking
            self._voice.push_to_talk(self._talking)

    @property
    def _unasked(self) -> bool:
        """Whether a crew's question has not been put yet: what is asked waits until it counts.

        Whoever answers then means the question before it.
        """
        return not self._link.alone and self._delivery.unsaid

    def _take(
        self,
        now: int,
        window: int,
        spoken: tuple[int, int],
        proposals: Sequence[Proposal],
        verdict: Verdict,
        member: str,
    ) -> None:
        """Take in what was said, as the words of whom it is asked of where nobody is named."""
        state = self._state()
        member = member or whose(state, verdict.candidate or "")
        shown = self._instruments.for_item(state)
        self._post(Heard(now, window, *spoken, tuple(proposals), verdict, shown, member))

    def _with_phrases(self, listen: Listen) -> Listen:
        return self._link.with_phrases(listen, self._unasked)

    def _for_the_link(self, verdict: Verdict) -> bool:
        return verdict.decision == "accept" and self._link.takes(verdict.candidate or "")
