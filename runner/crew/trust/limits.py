"""How much one sender may say: so much at once, and so much a second."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(slots=True)
class Bucket:
    """``burst`` at once, ``rate`` more each second. Times in milliseconds."""

    rate: float
    burst: float
    left: float = -1.0
    at: int = 0

    def take(self, now: int, amount: float = 1.0) -> bool:
        """Whether this much may pass now; what may is taken off."""
        if self.left < 0:
            self.left, self.at = self.burst, now
        self.left = min(self.burst, self.left + (now - self.at) * self.rate / 1000)
        self.at = now
        if amount > self.left:
            return False
        self.left -= amount
        return True
