"""What a line typed on the plain screen means: an answer, or a command behind a colon."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from runner.engine.events import KeyAction
from runner.engine.view import View
from runner.screen.calling import find_call

COMMANDS: dict[str, KeyAction] = {
    "done": "done",
    "say again": "say_again",
    "stand by": "stand_by",
    "continue": "resume",
    "go back": "go_back",
    "later": "later",
    "disagree": "disagree",
    "disregard": "disregard",
    "reject": "reject",
    "mute": "mute",
    "unmute": "unmute",
    "full": "full",
    "terse": "terse",
    "tones": "tones",
    "yes": "affirm",
    "no": "negative",
    "continue alone": "continue_alone",
    "take over": "take_over",
    "end": "end",
}

HELP = (
    "Type an answer and press Enter. Enter alone means done. A number chooses, where choices "
    "are offered.",
    "Commands: " + ", ".join(f":{name}" for name in COMMANDS) + ".",
    "Also: :list NAME or :list NAME 3 (an engine), :lists, :set name=value, :moment NAME, "
    ":why or :why FIGURE, :figures, :chart or :chart 2 (the aircraft's pictures), "
    ":talk (push to talk), :help.",
)


@dataclass(frozen=True, slots=True)
class Answer:
    """A typed answer."""

    text: str


@dataclass(frozen=True, slots=True)
class Press:
    """The same as a key: an action with its arguments."""

    action: KeyAction
    argument: str = ""
    argument2: str = ""


@dataclass(frozen=True, slots=True)
class Ask:
    """Something the screen itself answers."""

    about: Literal["help", "figures", "lists", "talk", "chart"]
    number: int = 0


@dataclass(frozen=True, slots=True)
class Mistake:
    """A command that is none: one line that says what would be right."""

    text: str


Typed = Answer | Press | Ask | Mistake


def read_line(line: str, view: View) -> Typed:
    """What ``line`` means while ``view`` is shown."""
    text = line.strip()
    if not text:
        return Press("done")
    if text.startswith(":"):
        return _command(" ".join(text[1:].split()), view)
    if text.isdigit() and 1 <= int(text) <= len(view.choices):
        return Press("answer", view.choices[int(text) - 1])
    return Answer(text)


def _command(text: str, view: View) -> Typed:
    name = text.lower().replace("_", " ")
    if name in COMMANDS:
        return Press(COMMANDS[name])
    word, _, rest = text.partition(" ")
    match word.lower():
        case "help" | "figures" | "lists" | "talk" if not rest:
            return Ask(word.lower())  # type: ignore[arg-type]
        case "chart" if not rest or rest.isdecimal():
            return Ask("chart", max(0, int(rest or 1) - 1))
        case "why":
            return Press("why", rest)
        case "moment" if rest:
            return Press("moment", rest)
        case "list" if rest:
            call = find_call(view.callable_lists, rest)
            if call is None:
                return Mistake(f"no one list is called “{rest}”; :lists names them")
            return Press("call", call.id, call.argument)
        case "set":
            given, equals, value = rest.partition("=")
            if equals and given.strip() and value.strip():
                return Press("set", given.strip(), value.strip())
            return Mistake(":set wants name=value, such as :set gross_weight=74310lb")
    return Mistake(f"“:{text}” is no command; :help names them")
