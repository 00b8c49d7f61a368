"""Vosk with any model folder that the user has: its grammar at run time where the model allows.

Models with a fixed decoding graph ignore a grammar given at run time; the free text they
give is matched all the same, and a text that is no candidate is none of the answers.
"""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

from runner.engine.effects import Listen
from runner.engine.events import Proposal
from runner.errors import RunnerError
from runner.phrasing.numbers import number_words
from runner.voice.grammar import DECOYS
from runner.voice.recogniser import RATE, Capabilities
from runner.voice.text import likeness, matching, pattern_of

MODEL_VARIABLE = "RUNNER_VOSK_MODEL"

PHRASES_LIMIT = 60
"""Texts of one candidate that are given to the grammar."""


def model_folder(asked: str = "") -> Path | None:
    """The model to use: the one asked for, the environment's, or one in the user's data folder."""
    named = asked or os.environ.get(MODEL_VARIABLE, "")
    if named:
        return Path(named)
    import platformdirs

    home = Path(platformdirs.user_data_path("runner", appauthor=False)) / "models"
    found = sorted(path.parent.parent for path in home.glob("*/am/final.mdl"))
    found += sorted(path.parent for path in home.glob("*/final.mdl"))
    return found[0] if found else None


def takes_grammar(folder: Path) -> bool:
    """Whether a model composes its graph at run time, so that a grammar has an effect."""
    return any(folder.glob("**/Gr.fst")) and any(folder.glob("**/HCLr.fst"))


class VoskRecogniser:
    """Vosk behind the recognisers' interface; raises ``RunnerError`` for a folder without model."""

    def __init__(self, folder: Path) -> None:
        if not any(folder.glob("**/final.mdl")):
            raise RunnerError(
                f"{folder}: holds no Vosk model; right is a folder with am/final.mdl in it"
            )
        try:
            import vosk
        except ImportError as error:
            raise RunnerError("Vosk is not installed; pip install vosk brings it") from error
        vosk.SetLogLevel(-1)
        self._vosk: Any = vosk
        try:
            self._model: Any = vosk.Model(str(folder))
        except Exception as error:
            raise RunnerError(f"{folder}: Vosk cannot load this model") from error
        self._folder = folder
        self._closed = takes_grammar(folder)
        self._decoder: Any = None
        self._listen: Listen | None = None
        self._text = ""

    @property
    def capabilities(self) -> Capabilities:
        """Streaming; closed where the model's graph is made at run time."""
        limits = (
            ()
            if self._closed
            else (
                f"Vosk: the model {self._folder.name} has a fixed graph and cannot be told "
                "what to listen for",
            )
        )
        return Capabilities("vosk", self._folder.name, self._closed, True, limits)

    def fits(self, listen: Listen) -> bool:  # noqa: ARG002
        """See ``Recogniser``."""
        return True

    def prepare(self, listen: Listen) -> None:
        """See ``Recogniser``."""
        if listen is self._listen:
            return
        patterns = [pattern_of(candidate.pattern) for candidate in listen.candidates]
        if self._closed:
            phrases = {text for pattern in patterns for text in pattern.texts(PHRASES_LIMIT)}
            if listen.number is not None:
                phrases.update(number_words(listen.number.form))
            phrases.update(word for decoys in DECOYS for word in decoys)
            phrases.add("[unk]")
            grammar = json.dumps(sorted(phrases))
            self._decoder = self._vosk.KaldiRecognizer(self._model, RATE, grammar)
        elif self._decoder is None:
            self._decoder = self._vosk.KaldiRecognizer(self._model, RATE)
        self._listen = listen

    def begin(self) -> None:
        """See ``Recogniser``."""
        self._text = ""
        if self._decoder is not None:
            self._decoder.Reset()

    def feed(self, samples: bytes) -> None:
        """See ``Recogniser``; Vosk's own end of an utterance is not ours, so texts are joined."""
        if self._decoder is not None and self._decoder.AcceptWaveform(samples):
            self._add(json.loads(self._decoder.Result()).get("text", ""))

    def propose(self, final: bool = True) -> tuple[Proposal, ...]:
        """See ``Recogniser``."""
        listen = self._listen
        if listen is None or self._decoder is None:
            return ()
        if final:
            self._add(json.loads(self._decoder.FinalResult()).get("text", ""))
            words = self._text
        else:
            partial = json.loads(self._decoder.PartialResult()).get("partial", "")
            words = f"{self._text} {partial}".strip()
        if not words:
            return ()
        found = matching(words, listen)
        if not found:
            return (Proposal("vosk", None, words, likeness(words, listen), 0.0),)
        return tuple(Proposal("vosk", name, words, 0.9, 0.8, value) for name, value in found)

    def close(self) -> None:
        """See ``Recogniser``."""
        self._decoder = self._model = None

    def _add(self, text: str) -> None:
        self._text = f"{self._text} {text}".strip()
