"""Whisper by faster-whisper, with a model folder that the user has; nothing is ever downloaded.

Whisper writes down whatever was said, so it is an open recogniser: it is not told what to
listen for. It is asked for its best few transcripts and how probable each one is; those that
are the same candidate are added up. What it hears is a candidate where that sum is large
enough, and larger than that of every other candidate. Where no transcript is a candidate it is
asked again, now with the item's answers as what was said before, which makes words of the trade
likelier; then only phrases count, because short words it would invent.

Its encoder usually takes half a minute of sound whatever was said; given ``SHORT_FRAMES``
instead, it is seven times as fast and hears single words as well.
"""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

from runner.engine.effects import Listen
from runner.engine.events import Proposal
from runner.errors import RunnerError
from runner.phrasing.normal import normalise
from runner.voice.recogniser import RATE, Capabilities
from runner.voice.text import NUMBER, is_answer, likeness, matching, pattern_of, role_of
from runner.voice.vosk_model import models_home

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

MODEL_VARIABLE = "RUNNER_WHISPER_MODEL"

PARTS = (
    ("model.bin",),
    ("config.json",),
    ("tokenizer.json",),
    ("vocabulary.json", "vocabulary.txt"),
)
"""The files of a model as faster-whisper takes them, of each group at least one. Without a
``tokenizer.json`` it would go and download one."""

HYPOTHESES = 8
"""Transcripts that are asked for."""

LONGEST = 40
"""Tokens of a transcript, at most: no answer is as long."""

SHORT_FRAMES = 1_000
WHOLE_FRAMES = 3_000
"""Frames of 10 ms that the encoder is given; below 1,000 it begins to repeat words."""

HOP = RATE // 100

HINT_LIMIT = 100
"""Tokens of the answers, at most."""

LEAST = 0.02
AT_LEAST = 0.7
"""The margin is ``AT_LEAST`` where the transcripts that are the candidate have the probability
``LEAST`` together, and 1 where they are certain. Of people's words that were no answer none
reached ``LEAST`` (``tests/bench/hearing_whisper.py``)."""

LEAST_HINTED = 0.1
"""A phrase that is heard with the answers before it counts from this probability on. With it 149
instead of 106 of 156 phrases by synthetic voices were kept, and no other one taken."""

LEAST_NUMBER = 0.2
NUMBER_SHARE = 0.8
"""A number counts from this probability on, and this share of the probability of all candidates:
of numbers that are nearly right Whisper is less sure."""

LEAST_CONTROL = 0.5
"""A control phrase of one word counts from this probability on: "down" is now and then "done"."""

NO_SPEECH = 0.6
"""From this probability on of there having been no speech, a text that is no candidate is nothing:
of silence Whisper makes words that nobody said."""

SHORTEST = 0.12
"""Seconds; less sound than this is no word."""

MOST_THREADS = 4


Heard: TypeAlias = tuple[str, float | None, str, float]
"""A candidate's id, its value where it is a number, its most probable text, its probability."""


def is_model(folder: Path) -> bool:
    """Whether a folder holds a Whisper model in the form that faster-whisper takes."""
    return not missing_parts(folder)


def missing_parts(folder: Path) -> tuple[str, ...]:
    """The files that a folder lacks to be a Whisper model."""
    return tuple(
        " or ".join(names)
        for names in PARTS
        if not any((folder / name).is_file() for name in names)
    )


def installed_models() -> tuple[Path, ...]:
    """The Whisper models in the user's data folder, sorted by name."""
    found = sorted(path.parent for path in models_home().glob("*/model.bin"))
    return tuple(path for path in found if is_model(path) and not path.name.startswith("."))


def model_folder() -> Path | None:
    """The environment's model, or the first one among those in the user's data folder.

    A model in the user's data folder may be named without its path.
    """
    named = os.environ.get(MODEL_VARIABLE, "")
    if named:
        folder, installed = Path(named), models_home() / named
        return installed if installed.is_dir() and not folder.is_dir() else folder
    return next(iter(installed_models()), None)


def margin_of(
    probability: float, others: float, least: float = 0.0, least_share: float = 0.0
) -> float:
    """The margin, 0 to 1, of a candidate of this probability; ``others`` is that of the others.

    None where the probability or its share of all candidates' is less than the least.
    """
    if probability <= 0.0:
        return 0.0
    share = probability / (probability + others)
    if probability < least or share < least_share:
        return 0.0
    certain = 1.0 + (1.0 - AT_LEAST) * math.log(probability) / -math.log(LEAST)
    return max(0.0, min(1.0, certain, share))


def weigh(transcripts: Sequence[tuple[str, float]], listen: Listen) -> tuple[Heard, ...]:
    """The candidates among transcripts (text, probability), the most probable first."""
    found: dict[tuple[str, float | None], tuple[str, float]] = {}
    for text, probability in transcripts:
        for candidate in matching(text, listen)[:1]:
            first, total = found.get(candidate, (normalise(text), 0.0))
            found[candidate] = (first, total + probability)
    ordered = sorted(found.items(), key=lambda entry: -entry[1][1])
    return tuple((*candidate, *heard) for candidate, heard in ordered)


class WhisperRecogniser:
    """Whisper behind the recognisers' interface; raises ``RunnerError`` for a folder without model.

    ``language`` is that of the speech, as ``en``; models of one language take no notice of it.
    """

    def __init__(self, folder: Path, language: str = "en") -> None:
        lacking = missing_parts(folder)
        if lacking:
            raise RunnerError(
                f"{folder}: holds no Whisper model for faster-whisper: there is no "
                f"{', no '.join(lacking)}"
            )
        try:
            library = import_module("faster_whisper")
            tokenizers = import_module("faster_whisper.tokenizer")
            self._arrays: Any = import_module("ctranslate2").StorageView
        except ImportError as error:
            raise RunnerError(
                "faster-whisper is not installed; pip install faster-whisper brings it"
            ) from error
        try:
            model: Any = library.WhisperModel(
                str(folder),
                device="cpu",
                compute_type="int8",
                cpu_threads=max(1, min(MOST_THREADS, (os.cpu_count() or 1) // 2)),
                local_files_only=True,
            )
            tokens: Any = tokenizers.Tokenizer(
                model.hf_tokenizer,
                model.model.is_multilingual,
                task="transcribe",
                language=language,
            )
        except ValueError as error:
            raise RunnerError(f"{folder}: {_first_line(error)}") from error
        except Exception as error:
            # Whatever the libraries throw about a damaged file is why there is no model.
            raise RunnerError(
                f"{folder}: faster-whisper cannot load this model: {_first_line(error)}"
            ) from error
        self._folder = folder
        self._model = model
        self._tokens = tokens
        self._prompt = [*tokens.sot_sequence, tokens.no_timestamps]
        self._short = SHORT_FRAMES
        self._listen: Listen | None = None
        self._samples = bytearray()
        self._warm()

    @property
    def capabilities(self) -> Capabilities:
        """Open: it writes down whatever is said."""
        return Capabilities("whisper", self._folder.name, False)

    def fits(self, listen: Listen) -> bool:  # noqa: ARG002
        """See ``Recogniser``."""
        return True

    def prepare(self, listen: Listen) -> None:
        """See ``Recogniser``."""
        self._listen = listen

    def begin(self) -> None:
        """See ``Recogniser``."""
        self._samples.clear()

    def feed(self, samples: bytes) -> None:
        """See ``Recogniser``."""
        self._samples += samples

    def propose(self, final: bool = True) -> tuple[Proposal, ...]:  # noqa: ARG002
        """See ``Recogniser``."""
        listen = self._listen
        if listen is None or len(self._samples) < SHORTEST * 2 * RATE:
            return ()
        encoded = self._encode(bytes(self._samples))
        transcripts, silent = self._transcribe(encoded)
        found = weigh(transcripts, listen)
        if not found:
            found = self._with_hint(encoded, listen)
        if not found:
            text = normalise(transcripts[0][0]) if transcripts else ""
            if not text or silent >= NO_SPEECH:
                return ()
            return (Proposal("whisper", None, text, likeness(text, listen), 0.0),)
        total = sum(probability for *_, probability in found)
        return tuple(
            Proposal(
                "whisper",
                name,
                text,
                0.9,
                margin_of(probability, total - probability, *_least(name, text, listen)),
                value,
            )
            for name, value, text, probability in found
        )

    def close(self) -> None:
        """See ``Recogniser``."""
        self._model = self._tokens = None

    def _warm(self) -> None:
        """Hear silence, so that the first answer does not wait; learn what the encoder takes."""
        try:
            self._transcribe(self._encode(bytes(2 * RATE)))
        except ValueError:
            # Not every release of the library takes less than the whole half minute.
            self._short = WHOLE_FRAMES
            self._transcribe(self._encode(bytes(2 * RATE)))

    def _with_hint(self, encoded: Any, listen: Listen) -> tuple[Heard, ...]:
        """The phrases heard with the item's answers before them."""
        texts = [pattern_of(one.pattern).canonical for one in listen.candidates if is_answer(one)]
        if not any(" " in text for text in texts):
            return ()
        hint = [self._tokens.sot_prev, *self._tokens.encode(f" {', '.join(texts)}.")]
        transcripts, _ = self._transcribe(encoded, hint[:HINT_LIMIT])
        return tuple(
            heard
            for heard in weigh(transcripts, listen)
            if heard[0] != NUMBER and " " in heard[2] and heard[3] >= LEAST_HINTED
        )

    def _encode(self, samples: bytes) -> Any:
        import numpy as np

        sound = np.frombuffer(samples, dtype="<i2").astype(np.float32)
        sound /= 32_768
        frames = self._short if len(sound) <= (self._short - 50) * HOP else WHOLE_FRAMES
        spectrum = self._spectrum(sound, frames)
        return self._model.model.encode(self._arrays.from_array(spectrum))

    def _transcribe(
        self, encoded: Any, hint: Sequence[int] = ()
    ) -> tuple[list[tuple[str, float]], float]:
        """Texts with their probabilities, the best first, and the probability of no speech."""
        prompt = [*hint, *self._prompt]
        (made,) = self._model.model.generate(
            encoded,
            [prompt],
            beam_size=HYPOTHESES,
            num_hypotheses=HYPOTHESES,
            # The score is then the logarithm of the probability of the whole transcript.
            length_penalty=0,
            max_length=len(prompt) + LONGEST,
            return_scores=True,
            return_no_speech_prob=True,
        )
        texts = [self._tokens.decode(each).strip() for each in made.sequences_ids]
        return (
            [(text, math.exp(score)) for text, score in zip(texts, made.scores, strict=True)],
            float(made.no_speech_prob),
        )

    def _spectrum(self, sound: NDArray[np.float32], frames: int) -> NDArray[np.float32]:
        """The logarithmic mel spectrum of ``frames`` frames, for a batch of one."""
        import numpy as np

        whole = np.zeros(frames * HOP, dtype=np.float32)
        whole[: len(sound)] = sound[: len(whole)]
        made = self._model.feature_extractor(whole, padding=0)[:, :frames]
        return np.ascontiguousarray(made[None], dtype=np.float32)


def _least(name: str, text: str, listen: Listen) -> tuple[float, float]:
    """The least probability, and share of it, from which a candidate counts at all."""
    if name == NUMBER:
        return LEAST_NUMBER, NUMBER_SHARE
    if " " not in text and role_of(name, listen) not in ("answer", "competitor"):
        return LEAST_CONTROL, 0.0
    return 0.0, 0.0


def _first_line(error: Exception) -> str:
    return str(error).splitlines()[0] if str(error) else type(error).__name__
