"""The kinds of cards."""

from __future__ import annotations

from typing import Literal, get_args

Kind = Literal["response", "next", "flow", "numbers", "wrong", "memory"]

KINDS: tuple[Kind, ...] = get_args(Kind)
