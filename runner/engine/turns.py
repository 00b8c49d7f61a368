"""Whose words or keys they are, where several people share one machine.

With a microphone each it is known who spoke. Who take turns at one are taken at their word:
what is said is said by whom it is asked of.
"""

from __future__ import annotations

from runner.engine.looking import look
from runner.engine.state import State


def whose(state: State, what: str = "") -> str:
    """Who says or does ``what`` now (a candidate's id), by the question that is open.

    '' where that does not tell, or where each is at a machine of their own.
    """
    if not state.together or state.program is None:
        return ""
    names = [member.name for member in state.crew if member.roles]
    flies = state.program.procedures.aircraft.roles[:1]
    flying = [m.name for m in state.crew if set(flies) & set(m.roles)]
    if what == "control:you_have_control":
        return flying[0] if flying else ""
    if what == "control:i_have_control":
        others = [name for name in names if name not in flying]
        return others[0] if len(others) == 1 else ""
    asked = [member.name for member in look(state).crew if member.answers]
    if len(asked) == 1:
        return asked[0]
    item, first = state.agreed
    if state.stack and state.stack[-1].item:
        # An item that needs all: whoever has not answered it yet.
        done = first if item == state.stack[-1].item else ""
        return next((name for name in names if name != done), "")
    return ""


def by_name(state: State, text: str) -> tuple[str, str]:
    """Whose a typed line is and what it says: "Ben: low blower" is Ben's; '' names nobody."""
    name, colon, rest = text.partition(":")
    if colon and state.together and name.strip() in [member.name for member in state.crew]:
        return name.strip(), rest.strip()
    return "", text
