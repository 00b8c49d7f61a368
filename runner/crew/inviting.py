"""How the person at one machine is told how another one joins."""

from __future__ import annotations

from runner.crew.trust.code import Code

_HELD = "\N{NO-BREAK SPACE}"


def how_to_join(code: Code, where: str) -> str:
    """The command that joins by a code at an address, or through a broker, in one line."""
    join = f"Join with: runner crew join --code “{code}”"
    return f"{join} --through {where}" if "://" in where else f"{join} (or {where})"


def held_together(text: str, code: Code | None) -> str:
    """A text in which no line break parts the code."""
    return text.replace(str(code), str(code).replace(" ", _HELD))
