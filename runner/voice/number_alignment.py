"""Where each word of a number is that was spoken in one breath: PocketSphinx's alignment.

Words run together have no pauses to be cut at. PocketSphinx says what they may be, and where
each of them would be if they were; each piece is then heard by itself.
"""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

from runner.voice.conditioning import made_ready
from runner.voice.pronounce import Dictionary

FRAME_SAMPLES = 160
"""Samples of one of PocketSphinx's frames, at 16 kHz."""

MARGIN_SAMPLES = 400
"""Sound kept on both sides of a word: a boundary is not a point."""

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
