"""Vosk with any model folder that the user has: its grammar at run time where the model allows.

Models with a fixed decoding graph ignore a grammar given at run time; the free text they
give is matched all the same, and a text that is no candidate is none of the answers.

``python -m runner.voice.vosk_model FOLDER`` loads a model and listens to a moment of silence
with it, in a process of its own because a damaged model may take the whole process down.
"""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path
from typing import Any

from runner.engine.effects import Listen
from runner.engine.events import Proposal
from runner.errors import RunnerError
from runner.phrasing.numbers import number_words
from runner.voice.grammar import DECOYS
from runner.voice.recogniser import RATE, Capabilities
from runner.voice.text import likeness, matching, pattern_of
from runner.voice.vocabulary import apart_from, decoys_from, words_of_model

MODEL_VARIABLE = "RUNNER_VOSK_MODEL"

UNKNOWN = "[unk]"
"""What most models call a word that is none of the grammar's."""

PHRASES_LIMIT = 60
"""Texts of one candidate that are given to the grammar."""

MARGIN = 0.8
"""The margin of what Vosk hears at most; it is Vosk's confidence in the least sure word where
that is less: what it made of other words, it was less sure of two times out of three."""

MISSING_LIMIT = 12
"""Words that a model does not know which are named, at most."""


def models_home() -> Path:
    """Where a user's models are: each in a folder of its own name."""
    import platformdirs

    return Path(platformdirs.user_data_path("runner", appauthor=False)) / "models"


def installed_models() -> tuple[Path, ...]:
    """The models in the user's data folder, sorted by name, those in the newer layout first."""
    home = models_home()
    found = sorted(path.parent.parent for path in home.glob("*/am/final.mdl"))
    found += sorted(path.parent for path in home.glob("*/final.mdl"))
    return tuple(path for path in found if not path.name.startswith("."))


def model_folder(asked: str = "") -> Path | None:
    """The model to use: the one asked for, the environment's, or one in the user's data folder.

    A model in the user's data folder may be named without its path.
    """
    named = asked or os.environ.get(MODEL_VARIABLE, "")
    if named:
        folder, installed = Path(named), models_home() / named
        return installed if installed.is_dir() and not folder.is_dir() else folder
    found = installed_models()
    return found[0] if found else None


def takes_grammar(folder: Path) -> bool:
    """Whether a model composes its graph at run time, so that a grammar has an effect.

    Where a whole graph is there as well, Vosk takes that.
    """
    for graph in (folder / "graph", folder):
        if (graph / "HCLG.fst").is_file():
            return False
        if (graph / "Gr.fst").is_file() and (graph / "HCLr.fst").is_file():
            return True
    return False


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
        self._decoys = self._choose_decoys() if self._closed else ()
        self._missing: dict[str, None] = {}
        self._decoder: Any = None
        self._listen: Listen | None = None
        self._text = ""
        self._sure = 1.0

    @property
    def capabilities(self) -> Capabilities:
        """Streaming; closed where the model's graph is made at run time.

        The limits name words of the windows so far that the model does not know.
        """
        limits: tuple[str, ...] = ()
        if not self._closed:
            limits += (
                f"Vosk: the model {self._folder.name} has a fixed graph and cannot be told "
                "what to listen for",
            )
        if self._missing:
            named = list(self._missing)[:MISSING_LIMIT]
            more = len(self._missing) - len(named)
            limits += (
                f"Vosk: the model {self._folder.name} does not know: {', '.join(named)}"
                + (f" and {more} more words" if more else ""),
            )
        return Capabilities("vosk", self._folder.name, self._closed, True, limits)

    def fits(self, listen: Listen) -> bool:  # noqa: ARG002
        """See ``Recogniser``."""
        return True

    def prepare(self, listen: Listen) -> None:
        """See ``Recogniser``."""
        if listen is self._listen:
            return
        if self._closed:
            # Vosk does not read escapes such as \u: it takes them for letters of the word.
            grammar = json.dumps(self._phrases(listen), ensure_ascii=False)
            self._decoder = self._vosk.KaldiRecognizer(self._model, RATE, grammar)
        elif self._decoder is None:
            self._decoder = self._vosk.KaldiRecognizer(self._model, RATE)
        self._decoder.SetWords(True)
        self._listen = listen

    def begin(self) -> None:
        """See ``Recogniser``."""
        self._text, self._sure = "", 1.0
        if self._decoder is not None:
            self._decoder.Reset()

    def feed(self, samples: bytes) -> None:
        """See ``Recogniser``; Vosk's own end of an utterance is not ours, so texts are joined."""
        if self._decoder is not None and self._decoder.AcceptWaveform(samples):
            self._add(json.loads(self._decoder.Result()))

    def propose(self, final: bool = True) -> tuple[Proposal, ...]:
        """See ``Recogniser``."""
        listen = self._listen
        if listen is None or self._decoder is None:
            return ()
        if final:
            self._add(json.loads(self._decoder.FinalResult()))
            words = self._text
        else:
            partial = json.loads(self._decoder.PartialResult()).get("partial", "")
            words = f"{self._text} {partial}".strip()
        if not words:
            return ()
        found = matching(words, listen)
        if not found:
            return (Proposal("vosk", None, words, likeness(words, listen), 0.0),)
        margin = min(MARGIN, self._sure)
        return tuple(Proposal("vosk", name, words, 0.9, margin, value) for name, value in found)

    def close(self) -> None:
        """See ``Recogniser``."""
        self._decoder = self._model = None

    def _phrases(self, listen: Listen) -> list[str]:
        """What the grammar holds, without phrases of which the model does not know each word.

        Vosk leaves such a word out and keeps the rest: of "not set" it would make "set".
        """
        patterns = [pattern_of(candidate.pattern) for candidate in listen.candidates]
        wanted = {text for pattern in patterns for text in pattern.texts(PHRASES_LIMIT)}
        if listen.number is not None:
            wanted.update(number_words(listen.number.form))
        phrases = set()
        for text in sorted(wanted):
            unknown = [word for word in text.split() if not self._knows(word)]
            self._missing.update(dict.fromkeys(unknown))
            if not unknown:
                phrases.add(text)
        said = sorted({word for text in wanted for word in text.split()})
        phrases.update(apart_from(self._decoys, said))
        # A candidate's words by themselves, so that a part of an answer is heard as that part.
        phrases.update(word for word in said if self._knows(word))
        if self._knows(UNKNOWN):
            phrases.add(UNKNOWN)
        return sorted(phrases)

    def _choose_decoys(self) -> tuple[str, ...]:
        """The shipped decoys where the model knows them, else words of its own."""
        shipped = [word for decoys in DECOYS for word in decoys]
        known = tuple(word for word in shipped if self._knows(word))
        if len(known) > len(shipped) // 2:
            return known
        return decoys_from(words_of_model(self._folder))

    def _knows(self, word: str) -> bool:
        return bool(self._model.vosk_model_find_word(word) >= 0)

    def _add(self, result: dict[str, Any]) -> None:
        self._text = f"{self._text} {result.get('text', '')}".strip()
        self._sure = min((self._sure, *(word["conf"] for word in result.get("result", ()))))


def main(arguments: list[str]) -> int:
    """Load the model in a folder and hear a moment of silence; gives 0 when that works."""
    try:
        recogniser = VoskRecogniser(Path(arguments[0]))
        recogniser.prepare(Listen(1, (), None))
        recogniser.begin()
        recogniser.feed(bytes(RATE))
        recogniser.propose()
    except RunnerError as error:
        print(error, file=sys.stderr)
        return error.status
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
