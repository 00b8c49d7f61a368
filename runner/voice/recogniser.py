"""What a recogniser is: it proposes candidates of a listening window, and judges nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from runner.engine.effects import Listen
from runner.engine.events import Proposal
from runner.errors import RunnerError

if TYPE_CHECKING:
    from runner.voice.pocket import PocketRecogniser
    from runner.voice.takes import Takes

RATE = 16_000
"""Samples a second of everything that is heard."""


@dataclass(frozen=True, slots=True)
class Capabilities:
    """What a recogniser can do on this machine.

    ``closed`` is whether it listens only for the window's candidates; ``streaming`` whether
    it changes its mind when told that the utterance is over; ``limits`` are plain lines
    about what it cannot do.
    """

    name: str
    model: str
    closed: bool
    streaming: bool = False
    limits: tuple[str, ...] = ()


class Recogniser(Protocol):
    """One recogniser. All calls come from one thread."""

    @property
    def capabilities(self) -> Capabilities:
        """What it can do."""

    def fits(self, listen: Listen) -> bool:
        """Whether it can hear everything that this window may be answered with."""

    def prepare(self, listen: Listen) -> None:
        """The next samples are said in this window; quick when it was prepared before."""

    def begin(self) -> None:
        """An utterance begins: forget all samples so far."""

    def feed(self, samples: bytes) -> None:
        """Further samples of the utterance, 16-bit mono at ``RATE``."""

    def propose(self, final: bool = True) -> tuple[Proposal, ...]:
        """What has been said so far, best first; more may be fed unless it was ``final``.

        Empty when there was no speech at all.
        """

    def close(self) -> None:
        """Give memory and files back."""


def choose(
    wanted: str,
    vosk_folder: Path | None,
    others: Sequence[str],
    language: str = "en",
    takes: Takes | None = None,
) -> tuple[Recogniser, ...]:
    """The recognisers for a run: those asked for, or with ``auto`` all that work.

    The matcher comes first; it leaves numbers to the recogniser of English ones, which takes
    PocketSphinx for its witness. Its synthetic templates are English: in another language it
    needs the pilot's own takes.

    ``others`` are phrases that may be said near the microphone and are no answer; ``language``
    is that of the answers; ``takes`` are the pilot's own. Raises ``RunnerError`` when a
    recogniser asked for by name cannot be had.
    """
    from runner.voice.pocket import PocketRecogniser
    from runner.voice.vosk_model import VoskRecogniser

    made: list[Recogniser] = []
    own = takes if takes is not None and takes.phrases() else None
    if wanted in ("auto", "matcher"):
        made += _matcher(wanted, language, own)
    if wanted in ("auto", "vosk") and vosk_folder is not None:
        try:
            made.append(VoskRecogniser(vosk_folder))
        except RunnerError:
            if wanted == "vosk":
                raise
    elif wanted == "vosk":
        raise RunnerError(
            "--recogniser vosk: there is no model; name its folder in RUNNER_VOSK_MODEL"
        )
    if wanted in ("auto", "whisper"):
        made += _whisper(wanted, language)
    matched = bool(made) and made[0].capabilities.name == "matcher"
    pocket: PocketRecogniser | None = None
    if wanted in ("pocketsphinx", "matcher") or not made or (wanted == "auto" and len(made) == 1):
        pocket = PocketRecogniser(others)
        made.append(pocket)
    if matched and language.startswith("en"):
        made.insert(1, _numbers(pocket or PocketRecogniser(others), own))
    return tuple(made)


def _numbers(pocket: PocketRecogniser, own: Takes | None) -> Recogniser:
    from runner.voice.number_recogniser import NumberRecogniser

    return NumberRecogniser(own, pocket)


def _matcher(wanted: str, language: str, own: Takes | None) -> list[Recogniser]:
    from runner.voice.matcher import MatcherRecogniser

    if wanted == "auto" and own is None and not language.startswith("en"):
        return []
    try:
        return [MatcherRecogniser(own)]
    except RunnerError:
        if wanted == "auto":
            return []
        raise


def _whisper(wanted: str, language: str) -> list[Recogniser]:
    from runner.voice.whisper import MODEL_VARIABLE, WhisperRecogniser, model_folder

    folder = model_folder()
    if folder is None:
        if wanted == "auto":
            return []
        raise RunnerError(
            f"--recogniser whisper: there is no model; name its folder in {MODEL_VARIABLE}"
        )
    try:
        return [WhisperRecogniser(folder, language)]
    except RunnerError:
        if wanted == "auto":
            return []
        raise
