"""Numbers that a hurried voice, a breath or noise turns into one another."""

from __future__ import annotations

from runner.phrasing.numeral_words import DIGIT_WORDS, TEENS, TENS

_TY = {DIGIT_WORDS[value // 10]: word for word, value in TENS.items()}
_TEEN = {DIGIT_WORDS[value - 10]: word for word, value in TEENS.items() if value > 12}

_ENDINGS = {
    word: tuple(other for other in (_TEEN[one], _TY[one], one) if other != word)
    for one in _TEEN
    for word in (_TEEN[one], _TY[one], one)
}
"""Words of numbers that only an ending tells apart, which is what a hurried voice leaves out."""


def twins(words: str) -> tuple[str, ...]:
    """The texts that differ from ``words`` in the ending of one word of a number, that lack one
    end, or in which a "-ty" is a "two": "ninety six" and "nine two six".

    A breath after "twenty" makes it "twenty eight".
    """
    said = words.split()
    endings = [
        " ".join((*said[:at], other, *said[at + 1 :]))
        for at, word in enumerate(said)
        for other in _ENDINGS.get(word, ())
    ]
    shorter = [" ".join(said[:-1]), " ".join(said[1:])] if len(said) > 1 else []
    return (*endings, *shorter, *twos(words))


def twos(words: str) -> tuple[str, ...]:
    """The texts in which a "-ty" before another digit is a "two", or such a "two" a "-ty"."""
    said = words.split()
    found = []
    for at, word in enumerate(said[:-1]):
        if said[at + 1] not in DIGIT_WORDS:
            continue
        if word in TENS:
            found.append((*said[:at], DIGIT_WORDS[TENS[word] // 10], "two", *said[at + 1 :]))
        elif word == "two" and at and said[at - 1] in _TY:
            found.append((*said[: at - 1], _TY[said[at - 1]], *said[at + 1 :]))
    return tuple(" ".join(text) for text in found)
