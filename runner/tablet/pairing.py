"""Which browser may press keys: a code told on the main screen, then a token kept by the page.

The code is six digits and lets one browser in; then there is a new one. Wrong codes are
counted for all browsers together, so that it helps nobody to connect again: after each the
next try must wait, twice as long each time, and after five the code opens nothing until
somebody at the main screen asks for another. A stranger on the network can therefore stop
pairing, but five guesses at a million are all that they get.
"""

from __future__ import annotations

import hmac
import secrets
from dataclasses import dataclass, field

DIGITS = 6
TRIES = 5
"""Wrong codes after which a code opens nothing any more."""

FIRST_WAIT = 2.0
"""Seconds after the first wrong code until another is looked at; doubled each time."""

TOKENS = 16
"""Browsers that may press keys at once; of more, the one paired first is forgotten."""


def _new_code() -> str:
    return f"{secrets.randbelow(10**DIGITS):0{DIGITS}d}"


@dataclass(slots=True)
class Pairing:
    """The code of now and the tokens given. Times are seconds of a clock that never goes back."""

    code: str = field(default_factory=_new_code)
    wrong: int = 0
    until: float = 0.0
    _tokens: dict[str, str] = field(default_factory=dict)

    @property
    def stopped(self) -> bool:
        """Whether no code is looked at any more."""
        return self.wrong >= TRIES

    @property
    def shown(self) -> str:
        """The code as it is shown: in two groups of three."""
        return f"{self.code[:3]} {self.code[3:]}"

    def wait(self, now: float) -> float:
        """Seconds until a code is looked at again."""
        return max(0.0, self.until - now)

    def renew(self) -> None:
        """A new code, with all its tries."""
        self.code, self.wrong, self.until = _new_code(), 0, 0.0

    def try_code(self, typed: str, address: str, now: float) -> str:
        """A token for the browser at ``address`` if the code is right, else nothing.

        While a wait lasts, and once stopped, nothing is looked at or counted.
        """
        if self.stopped or self.wait(now) > 0:
            return ""
        digits = "".join(typed.split()).replace("-", "")
        if not hmac.compare_digest(digits.encode(), self.code.encode()):
            self.until = now + FIRST_WAIT * 2**self.wrong
            self.wrong += 1
            return ""
        self.renew()
        token = secrets.token_urlsafe(32)
        while len(self._tokens) >= TOKENS:
            del self._tokens[next(iter(self._tokens))]
        self._tokens[token] = address
        return token

    def knows(self, token: str, address: str) -> bool:
        """Whether the token was given to a browser at this address."""
        known = False
        for given, to in self._tokens.items():
            known |= hmac.compare_digest(given.encode(), token.encode()) and to == address
        return known

    def forget(self) -> None:
        """No browser may press keys any more; a new code."""
        self._tokens.clear()
        self.renew()
