"""PocketSphinx asked about numbers more closely: where words are, and which digit a piece is.

Words run together have no pauses to be cut at. PocketSphinx says what they may be, and where
each of them would be if they were; each piece is then heard by itself. Of a single piece it
is asked which of the ten digits it is: its model errs in other places than the embedding.
"""

from __future__ import annotations

import math
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

from runner.phrasing.numeral_words import DIGIT_WORDS
from runner.voice.conditioning import made_ready
from runner.voice.pronounce import Dictionary

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Sound = NDArray[np.float32]

FRAME_SAMPLES = 160
"""Samples of one of PocketSphinx's frames, at 16 kHz."""

MARGIN_SAMPLES = 400
"""Sound kept on both sides of a word: a boundary is not a point."""

SCORE_UNITS = 1024
"""Natural units of likelihood in one unit of the logarithm of a score."""

MOST_FOR, MOST_AGAINST = 40.0, -60.0
"""Natural units beyond which it makes no difference how a digit compares with all ten."""

PAD_SAMPLES = 1600
"""Silence before and after a piece that is heard alone."""

SILENCES = frozenset({"<sil>", "<s>", "</s>", "[NOISE]", "[SPEECH]", "(NULL)"})


class Aligner:
    """A decoder that is told the words and finds their places."""

    def __init__(self) -> None:
        import pocketsphinx

        self._dictionary = Dictionary(Path(pocketsphinx.get_model_path("en-us/cmudict-en-us.dict")))
        with tempfile.NamedTemporaryFile("w", suffix=".dict", delete=False) as file:
            file.write("a AH\n")
        try:
            self._decoder: Any = pocketsphinx.Decoder(
                lm=None, dict=file.name, loglevel="FATAL", bestpath=False, cmn="batch"
            )
        finally:
            Path(file.name).unlink()
        self._known: set[str] = set()
        self._digits = self._add(DIGIT_WORDS)
        self._alone = {word: self._add((word,)) for word in DIGIT_WORDS}

    def stands(self, samples: Sound, word: str) -> float:
        """How much likelier a digit is, in natural units, than the likeliest of all ten.

        About twenty where it is itself the likeliest: ten words share what one has alone.
        """
        import numpy as np

        sound = np.clip(samples, -32_767, 32_767).astype("<i2").tobytes()
        ready = made_ready(bytes(2 * PAD_SAMPLES) + sound + bytes(2 * PAD_SAMPLES))
        found = self._likely(self._alone[word], ready) - self._likely(self._digits, ready)
        return max(MOST_AGAINST, min(MOST_FOR, found)) if math.isfinite(found) else MOST_AGAINST

    def _add(self, words: tuple[str, ...]) -> str:
        self._learn(" ".join(words))
        name = f"digits{len(words)}{words[0]}"
        arcs = [(0, 1, 1.0, word) for word in words]
        self._decoder.add_fsg(name, self._decoder.create_fsg(name, 0, 1, arcs))
        return name

    def _likely(self, name: str, ready: bytes) -> float:
        self._decoder.activate_search(name)
        self._decoder.start_utt()
        self._decoder.process_raw(ready, False, True)
        self._decoder.end_utt()
        best = self._decoder.hyp()
        if best is None or not best.hypstr or best.best_score <= 0:
            return -math.inf
        return math.log(best.best_score) * SCORE_UNITS

    def places(self, sound: bytes, words: str) -> tuple[tuple[str, int, int], ...]:
        """Each word with its first and last sample; empty where the words do not fit at all."""
        self._learn(words)
        try:
            self._decoder.set_align_text(words)
            self._decoder.start_utt()
            self._decoder.process_raw(made_ready(sound), False, True)
            self._decoder.end_utt()
            found = [
                (part.word.partition("(")[0], part.start_frame, part.end_frame)
                for part in self._decoder.seg() or ()
                if part.word not in SILENCES
            ]
        except RuntimeError:
            return ()
        if [word for word, _, _ in found] != words.split():
            return ()
        end = len(sound) // 2
        return tuple(
            (
                word,
                max(0, first * FRAME_SAMPLES - MARGIN_SAMPLES),
                min(end, (last + 1) * FRAME_SAMPLES + MARGIN_SAMPLES),
            )
            for word, first, last in found
        )

    def close(self) -> None:
        """Give the dictionary back."""
        self._dictionary.close()

    def _learn(self, words: str) -> None:
        for word in sorted(set(words.split()) - self._known):
            for number, phones in enumerate(self._dictionary.pronounce(word)):
                spelt = word if number == 0 else f"{word}({number + 1})"
                if self._decoder.lookup_word(spelt) is None:
                    self._decoder.add_word(spelt, phones, False)
            self._known.add(word)
