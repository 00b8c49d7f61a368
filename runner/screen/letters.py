"""Large letters, three rows high, so that a challenge can be read across a cockpit.

Drawn with the half and full blocks that every terminal font has. A text with a character
that is not here, or one that is too long, is not drawn large.
"""

from __future__ import annotations

_ROWS = 3

_GLYPHS = {
    "A": ("▄▀▄", "█▀█", "█ █"),
    "B": ("█▀▄", "█▀▄", "█▄▀"),
    "C": ("▄▀▀", "█  ", "▀▄▄"),
    "D": ("█▀▄", "█ █", "█▄▀"),
    "E": ("█▀▀", "█▀▀", "█▄▄"),
    "F": ("█▀▀", "█▀▀", "█  "),
    "G": ("▄▀▀▀", "█ ▀█", "▀▄▄█"),
    "H": ("█ █", "█▀█", "█ █"),
    "I": ("█", "█", "█"),
    "J": ("  █", "  █", "▀▄▀"),
    "K": ("█ █", "█▀▄", "█ █"),
    "L": ("█  ", "█  ", "█▄▄"),
    "M": ("█▄ ▄█", "█ ▀ █", "█   █"),
    "N": ("█▄ █", "█ ▀█", "█  █"),
    "O": ("▄▀▀▄", "█  █", "▀▄▄▀"),
    "P": ("█▀▄", "█▄▀", "█  "),
    "Q": ("▄▀▀▄ ", "█  █ ", "▀▄▄▀▄"),
    "R": ("█▀▄", "█▄▀", "█ █"),
    "S": ("▄▀▀", "▀▀▄", "▄▄▀"),
    "T": ("▀█▀", " █ ", " █ "),
    "U": ("█ █", "█ █", "█▄█"),
    "V": ("█   █", "▀▄ ▄▀", "  █  "),
    "W": ("█   █", "█ ▄ █", "▀▄▀▄▀"),
    "X": ("█ █", "▄▀▄", "█ █"),
    "Y": ("█ █", "▀▄▀", " █ "),
    "Z": ("▀▀█", "▄▀ ", "█▄▄"),
    "0": ("█▀█", "█ █", "█▄█"),
    "1": ("▄█ ", " █ ", "▄█▄"),
    "2": ("▀▀▄", "▄▀ ", "█▄▄"),
    "3": ("▀▀▄", " ▀▄", "▄▄▀"),
    "4": ("█ █", "▀▀█", "  █"),
    "5": ("█▀▀", "▀▀▄", "▄▄▀"),
    "6": ("▄▀▀", "█▀▄", "▀▄▀"),
    "7": ("▀▀█", " ▄▀", " █ "),
    "8": ("▄▀▄", "▄▀▄", "▀▄▀"),
    "9": ("▄▀▄", "▀▄█", "▄▄▀"),
    " ": ("  ", "  ", "  "),
    "-": ("  ", "▀▀", "  "),
    "?": ("▀▀▄", " ▄▀", " ▄ "),
    "!": ("█", "▀", "▄"),
    ".": (" ", " ", "▄"),
    ",": (" ", " ", "█"),
    ":": ("▄", " ", "▀"),
    "'": ("▀", " ", " "),
    "’": ("▀", " ", " "),
    "/": ("  █", " █ ", "█  "),
    "(": ("▄▀", "█ ", "▀▄"),
    ")": ("▀▄", " █", "▄▀"),
    "°": ("▀", " ", " "),
}


def letters(text: str, width: int, most: int) -> list[str]:
    """``text`` as rows of large letters in at most ``most`` lines of ``width`` cells.

    Gives three rows for each line, a blank row between, the lines about equally long;
    an empty list where it cannot be done.
    """
    lines = _broken(text.upper().split(), width)
    if not lines or len(lines) > most or any(not 0 < _width(line) <= width for line in lines):
        return []
    for narrower in range(width - 1, 0, -1):
        balanced = _broken(text.upper().split(), narrower)
        if len(balanced) > len(lines) or any(_width(line) > narrower for line in balanced):
            break
        lines = balanced
    rows: list[str] = []
    for line in lines:
        rows += [""] if rows else []
        rows += [" ".join(_GLYPHS[letter][row] for letter in line) for row in range(_ROWS)]
    return rows


def _broken(words: list[str], width: int) -> list[str]:
    """Words in lines, each as long as goes into ``width`` cells."""
    lines: list[str] = []
    for word in words:
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and _width(longer) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def _width(line: str) -> int:
    """The cells a line needs; 0 where a character has no large form."""
    if not all(letter in _GLYPHS for letter in line):
        return 0
    return sum(len(_GLYPHS[letter][0]) for letter in line) + len(line) - 1
