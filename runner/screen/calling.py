"""Finding a list by what somebody typed: its words in any order, then its engine number."""

from __future__ import annotations

import re
from dataclasses import dataclass

CallableList = tuple[str, str, bool]

_ARGUMENT = re.compile(
    r"^(?P<name>.*?)[\s,]*(?:\b(?:engine|number|no\.?)\s+)*(?P<number>\d)\s*$", re.I
)


@dataclass(frozen=True, slots=True)
class Call:
    """A list that was asked for: its id, its title and its argument, if one was given."""

    id: str
    title: str
    argument: str = ""


def split_argument(typed: str) -> tuple[str, str]:
    """``engine fire number 3`` as its name and its engine number; no number gives ""."""
    found = _ARGUMENT.match(typed)
    if found is None:
        return typed.strip(), ""
    if not found["name"].strip(" ,"):
        return typed.strip()[:-1].strip(), found["number"]
    return found["name"].strip(" ,"), found["number"]


def matching(lists: tuple[CallableList, ...], typed: str) -> tuple[CallableList, ...]:
    """The lists whose title, id or the word "abnormal" begin with every word typed."""
    name, _ = split_argument(typed)
    words = name.lower().split()

    def fits(entry: CallableList) -> bool:
        id_, title, abnormal = entry
        text = f"{title} {id_} {'abnormal' if abnormal else ''}".lower()
        parts = re.split(r"[\s\-_.]+", text) + text.split()
        return all(any(part.startswith(word) for part in parts) for word in words)

    return tuple(entry for entry in lists if fits(entry))


def find_call(lists: tuple[CallableList, ...], typed: str) -> Call | None:
    """The one list that ``typed`` names: exactly by title or id, else the only one it fits."""
    wanted = ""
    for name, argument in ((typed.strip(), ""), split_argument(typed)):
        wanted = re.sub(r"\s+(check)?list$", "", name.lower())
        for id_, title, _ in lists:
            if wanted in (id_.lower(), title.lower()):
                return Call(id_, title, argument)
    fits = matching(lists, wanted)
    return Call(fits[0][0], fits[0][1], argument) if len(fits) == 1 else None
