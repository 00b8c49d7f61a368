"""The keys of the full screen: one table that binds them and that shows them."""

from __future__ import annotations

from dataclasses import dataclass

from runner.engine.events import KeyAction


@dataclass(frozen=True, slots=True)
class Key:
    """One key: what the terminal calls it, how it is shown, what it does in a word.

    ``action`` goes to the run as it is; where it is None, ``does`` names something of the
    screen's own (a line to type in, a view, push-to-talk). With ``confirm`` the key asks
    first.
    """

    keys: str
    shown: str
    label: str
    does: str
    action: KeyAction | None = None
    confirm: str = ""


KEYS = (
    Key("space,enter", "space", "done", "done", "done"),
    Key("a", "a", "say again", "say_again", "say_again"),
    Key("b", "b", "stand by", "stand_by", "stand_by"),
    Key("c", "c", "continue", "resume", "resume"),
    Key("g", "g", "go back", "go_back", "go_back"),
    Key("o", "o", "later", "later", "later"),
    Key("d", "d", "disagree", "disagree", "disagree"),
    Key("x", "x", "disregard", "disregard", "disregard"),
    Key("y", "y", "yes", "affirm", "affirm"),
    Key("n", "n", "no", "negative", "negative"),
    Key("w", "w", "why", "why", "why"),
    Key("p", "p", "talk", "talk"),
    Key("m", "m", "mute", "mute"),
    Key("v", "v", "wording", "wording"),
    Key("slash,t", "/", "type", "type"),
    Key("s", "s", "set", "set"),
    Key("l", "l", "lists", "lists"),
    Key("f", "f", "sheet", "figures"),
    Key("h", "h", "chart", "chart"),
    Key("up", "↑", "", "earlier"),
    Key("down", "↓", "look", "further"),
    Key("R", "R", "reject", "reject", "reject", "Reject the take-off?"),
    Key("q,ctrl+q,ctrl+c", "q", "end", "end", "end", "End this run?"),
)

NEXT_WORDING: dict[str, KeyAction] = {"full": "terse", "terse": "tones", "tones": "full"}
"""From how much is said now to what the wording key asks for."""

IN_A_DRILL: dict[str, str] = {
    "done": "right",
    "say_again": "say again",
    "stand_by": "stand by",
    "resume": "continue",
    "disagree": "disagree",
    "why": "hint",
    "later": "tell me",
    "talk": "talk",
    "mute": "mute",
    "type": "type",
    "end": "stop",
}
"""The keys that do something in a drill, by what they do, and what they are called there."""
