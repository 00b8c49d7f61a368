"""A stream of bytes cut into lines, with a bound on how much of it is kept."""

from __future__ import annotations

MAX_LINE = 64 * 1024
"""A longer line is dropped, up to its end."""


class Lines:
    """Lines out of the pieces in which a stream arrives. ``too_long`` counts those dropped."""

    def __init__(self) -> None:
        self.too_long = 0
        self._rest = b""
        self._dropping = False

    def feed(self, piece: bytes) -> list[bytes]:
        """The lines that ``piece`` completes, without their ends."""
        *whole, rest = piece.split(b"\n")
        lines: list[bytes] = []
        for line in whole:
            if self._dropping:
                self._dropping = False
            elif len(self._rest) + len(line) > MAX_LINE:
                self.too_long += 1
            else:
                lines.append(self._rest + line)
            self._rest = b""
        if self._dropping:
            return lines
        if len(self._rest) + len(rest) > MAX_LINE:
            self.too_long += 1
            self._dropping = True
            self._rest = b""
        else:
            self._rest += rest
        return lines

    def end(self) -> list[bytes]:
        """The line that the end of the stream completes, if there is one."""
        rest, self._rest = self._rest, b""
        return [rest] if rest and not self._dropping else []
