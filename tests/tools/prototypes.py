"""Make the matcher's transform and its prototypes: ``runner/voice/data/*.npz``.

    RUNNER_SPEECH_DATA=FOLDER python tests/tools/prototypes.py [--add]

The transform is fitted on people's ``words/`` (those that are no state word): the directions
in which one word differs between people are shrunk, so that what is left tells words apart.
Without that folder the transform that is there stays. The prototypes are the phrases of
``voices/`` and of the shipped procedures, and every word in them, by the flite and festival
voices of this machine and by espeak-ng's English ones (those inside the wheel that Runner
installs). Nothing of anybody's sound is kept. Takes about a quarter of an hour. ``--add`` makes
what is missing alone, with the transform that is there.
"""

from __future__ import annotations

import argparse
import os
import re
import subprocess
import sys
import tempfile
from collections import defaultdict
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

from runner.checklist.load import find_file, load_procedures, load_voice  # noqa: E402
from runner.engine.lines import item_lines, pattern_text, values_of  # noqa: E402
from runner.engine.program import Program  # noqa: E402
from runner.figures.sheet import Sheet  # noqa: E402
from runner.phrasing.numeral_words import DIGIT_WORDS, TEENS, TENS  # noqa: E402
from runner.phrasing.pattern import parse  # noqa: E402
from runner.voice.embedding import Embedder, Utterance, to_samples  # noqa: E402
from runner.voice.prototypes import FILE, TRANSFORM, Transform, transform  # noqa: E402
from runner.voice.synthesis import Synthesiser  # noqa: E402
from runner.voice.waves import read_wav  # noqa: E402
from sound import speak_to_file, voices  # noqa: E402

RATE = 16_000
DIMENSIONS = 48
SHRINK = 0.1
STATES = frozenset(("on", "off", "up", "down", "yes", "no", "stop", "go", "left", "right"))
NUMBERS = (
    *DIGIT_WORDS,
    *("oh", "niner", "fower", "fife"),
    *TEENS,
    *TENS,
    *("hundred", "thousand", "point", "decimal", "and a half"),
)
COMMON = (
    "bed bird cat dog happy house tree wow water window morning coffee people station yellow "
    "on off up down yes no stop go left right"
)
TEMPI = (0.85, 1.2)
ESPEAK = (
    ("gmw/en", 170),
    ("gmw/en-GB-x-rp", 170),
    ("gmw/en-US", 150),
    ("gmw/en-GB-scotland", 160),
    ("gmw/en-GB-x-gbcwmd", 170),
    ("gmw/en-029", 150),
)


def phrases() -> list[str]:
    """Every phrase that the shipped files listen for, and every word of them."""
    found: dict[str, None] = {}
    styles = [load_voice(find_file(name, ("voices",))) for name in ("cockpit", "icao", "faa")]
    for style in styles:
        for pattern in style.control.values():
            found.update(dict.fromkeys(parse(pattern).texts(3)))
    for name in ("whimbrel-four", "sanderling"):
        procedures = load_procedures(find_file(name, ("checklists",)))
        program = Program(procedures, styles[0], ("", "", ""))
        figures = Sheet(procedures.aircraft).work_out({}).figures
        for item in program.items:
            lines = item_lines(program, item, 1, values_of(program, figures, item))
            for pattern in (lines.answer, *(source for source, _ in lines.competitors)):
                if pattern:
                    found.update(dict.fromkeys(parse(pattern).texts(1)))
        for checklist in program.lists.values():
            for text in checklist.calls:
                if not text.figures:
                    found.update(dict.fromkeys(parse(pattern_text(program, text, {})).texts(1)))
        for moment in procedures.moments.values():
            if moment.said is not None:
                said = pattern_text(program, moment.said, {})
                found.update(dict.fromkeys(parse(said).texts(1)))
        names = [fill for i in program.items.values() for fill in i.challenge.source.split()]
        found.update(dict.fromkeys(w.lower() for w in names if re.fullmatch(r"[A-Za-z']+", w)))
    found.update(dict.fromkeys((*NUMBERS, *COMMON.split())))
    for text in tuple(found):
        found.update(dict.fromkeys(text.split()))
    return [text for text in found if text]


class Voices:
    """Everybody who says a phrase; one for each process."""

    def __init__(self) -> None:
        self.embedder = Embedder()
        self.synthesiser = Synthesiser()
        self.folder = tempfile.TemporaryDirectory()

    def say(self, text: str) -> list[Utterance]:
        """How each voice says a phrase."""
        folder = Path(self.folder.name)
        made = folder / "made.wav"
        said: list[Utterance] = []
        for place, voice in enumerate(voices()):
            file = speak_to_file(voice, text, folder)
            tempo = TEMPI[place % 2]
            subprocess.run(
                ["sox", str(file), str(made), "tempo", "-s", str(tempo)],
                check=True,
                stderr=subprocess.DEVNULL,
            )
            said.append(self.embedder.path(to_samples(read_wav(made, RATE))))
            file.unlink()
        for espeak, rate in ESPEAK:
            made.unlink(missing_ok=True)
            for attempt in range(4):
                try:
                    self.synthesiser.make(text, espeak, rate, made)
                    break
                except RuntimeError:
                    # The synthesiser now and then forgets an order.
                    if attempt == 3:
                        raise RuntimeError(f"{espeak} does not say {text!r}") from None
            said.append(self.embedder.path(to_samples(read_wav(made, RATE))))
        return said


_VOICES: list[Voices] = []


def _say(text: str) -> list[Utterance]:
    if not _VOICES:
        _VOICES.append(Voices())
    return _VOICES[0].say(text)


def utterances(texts: list[str]) -> Iterator[list[Utterance]]:
    """How each voice says each phrase, by as many processes as there are processors."""
    with ProcessPoolExecutor() as crew:
        for number, said in enumerate(crew.map(_say, texts, chunksize=8)):
            if number % 100 == 0:
                print(f"{number} of {len(texts)}", file=sys.stderr)
            yield said


def fitted(embedder: Embedder, mean: NDArray[np.float32]) -> Transform | None:
    """The transform from people's words, or None where there are no recordings."""
    home = os.environ.get("RUNNER_SPEECH_DATA")
    if not home or not (Path(home) / "words").is_dir():
        return None
    same: dict[str, list[NDArray[np.float32]]] = defaultdict(list)
    points = []
    for file in sorted((Path(home) / "words").glob("*/*.wav")):
        if file.parent.name not in STATES:
            path = embedder.path(to_samples(read_wav(file, RATE))).embedded
            same[file.parent.name].append(_resampled(path))
            points.append(path)
    rest = np.vstack([p - np.mean(paths, axis=0) for paths in same.values() for p in paths])
    values, vectors = np.linalg.eigh(np.cov(rest.T))
    shrunk = (vectors * (values + SHRINK * values.mean()) ** -0.5) @ vectors.T
    spread = np.cov(((np.vstack(points) - mean) @ shrunk).T)
    _, directions = np.linalg.eigh(spread)
    matrix = shrunk @ directions[:, ::-1][:, :DIMENSIONS]
    return Transform(mean.astype(np.float32), matrix.astype(np.float32))


def _resampled(path: NDArray[np.float32], count: int = 10) -> NDArray[np.float32]:
    """A path at even places, so that the same place of a word can be compared."""
    places = np.linspace(0, len(path) - 1, count)
    low = np.floor(places).astype(int)
    high = np.minimum(low + 1, len(path) - 1)
    share = (places - low)[:, None]
    return (path[low] * (1 - share) + path[high] * share).astype(np.float32)


def stored(said: list[list[Utterance]], made: Transform) -> tuple[Any, Any]:
    """The points of all phrases and voices one after another, and how many each has."""
    paths = [[made(u.embedded) for u in each] for each in said]
    points = np.vstack([p for each in paths for p in each])
    lengths = np.array([[len(p) for p in each] for each in paths], dtype=np.int16)
    return np.round(points * 127).astype(np.int8), lengths


def write(texts: list[str], points: Any, lengths: Any) -> None:
    """Write the prototypes."""
    np.savez_compressed(FILE, texts=np.array(texts), points=points, lengths=lengths)
    print(f"{FILE}: {FILE.stat().st_size / 1e6:.1f} MB", file=sys.stderr)


def add(texts: list[str]) -> None:
    """Make what is missing."""
    with np.load(FILE) as there:
        before = {name: there[name] for name in there.files}
    missing = [text for text in texts if text not in set(before["texts"].tolist())]
    if not missing:
        return
    print(f"{len(missing)} phrases, {len(voices()) + len(ESPEAK)} voices", file=sys.stderr)
    points, lengths = stored(list(utterances(missing)), transform())
    write(
        [*before["texts"].tolist(), *missing],
        np.vstack([before["points"], points]),
        np.vstack([before["lengths"], lengths]),
    )


def main() -> None:
    """Write both files."""
    asked = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    asked.add_argument("--add", action="store_true")
    texts = phrases()
    if asked.parse_args().add:
        add(texts)
        return
    print(f"{len(texts)} phrases, {len(voices()) + len(ESPEAK)} voices", file=sys.stderr)
    said = list(utterances(texts))
    mean = np.vstack([u.embedded for each in said for u in each]).mean(axis=0)
    made = fitted(Embedder(), mean)
    if made is None:
        made = transform()
    else:
        np.savez_compressed(TRANSFORM, mean=made.mean, matrix=made.matrix)
    write(texts, *stored(said, made))


if __name__ == "__main__":
    main()
