"""What the voice process is told when it starts: where to speak, where to listen, and how."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass, field
from typing import Any, Literal

from runner.errors import RunnerError
from runner.phrasing.style import VoiceStyle

PushToTalk = Literal["off", "hold", "toggle"]
RecogniserChoice = Literal["auto", "matcher", "pocketsphinx", "vosk", "whisper"]


@dataclass(frozen=True, slots=True)
class VoiceSettings:
    """Everything the voice process needs to know before its first command.

    ``speak`` is ``speaker``, ``none`` or ``wav:DIR``; ``listen`` is ``mic``, ``none`` or
    ``wav:FILE``. ``speaker`` and ``microphone`` choose a device by a part of its name; empty
    is the system's own choice. With ``headset`` the microphone stays open while Runner
    speaks, without it the microphone is shut until ``tail_ms`` after the last sound.
    ``patterns`` are phrases that may be said near the microphone and are no answer: heard as
    themselves, they are never taken for one. Each costs kept answers: with 60 and 200 of them
    PocketSphinx kept 80 and 73 % of phrases instead of 90 %
    (``tests/bench/hearing_pocketsphinx.py``), and took 0.0 instead of 0.3 % wrongly.
    ``answers`` are the patterns that the run's items are answered with, the most frequent
    first: templates are made ahead of those that have none. ``pace`` is the speed
    at which WAV files are read and written, 1 for real time, 0 for as fast as possible.
    ``takes`` is the name of whose own takes are heard with, empty for nobody's.
    ``buttons`` maps what a button does (``talk``, ``done``, ``say_again`` ...) to its number
    on the controller whose name contains ``controller``.
    """

    speak: str = "speaker"
    listen: str = "mic"
    recogniser: RecogniserChoice = "auto"
    headset: bool = True
    speaker: str = ""
    microphone: str = ""
    push_to_talk: PushToTalk = "off"
    controller: str = ""
    buttons: tuple[tuple[str, int], ...] = ()
    style: VoiceStyle = field(default_factory=lambda: VoiceStyle("cockpit"))
    patterns: tuple[str, ...] = ()
    answers: tuple[str, ...] = ()
    pace: float = 1.0
    tail_ms: int = 180
    takes: str = "pilot"
    vosk_model: str = ""
    cache: str = ""

    def __post_init__(self) -> None:
        kind, _, rest = self.speak.partition(":")
        if kind not in ("speaker", "none", "wav") or (kind == "wav") != bool(rest):
            raise RunnerError(
                f"--speak {self.speak}: there is no such way to speak; "
                "right would be speaker, none or wav:DIR"
            )
        kind, _, rest = self.listen.partition(":")
        if kind not in ("mic", "none", "wav") or (kind == "wav") != bool(rest):
            raise RunnerError(
                f"--listen {self.listen}: there is no such way to listen; "
                "right would be mic, none or wav:FILE"
            )

    def to_json(self) -> dict[str, Any]:
        """The settings as plain JSON values."""
        plain = {f.name: getattr(self, f.name) for f in dataclasses.fields(self)}
        style = {f.name: getattr(self.style, f.name) for f in dataclasses.fields(self.style)}
        for name in ("control", "phrases", "synonyms", "pronunciations"):
            style[name] = dict(style[name])
        plain["style"] = style
        return plain

    @classmethod
    def from_json(cls, plain: dict[str, Any]) -> VoiceSettings:
        """The settings that ``to_json`` gave."""
        style = dict(plain["style"])
        style["synonyms"] = {word: tuple(texts) for word, texts in style["synonyms"].items()}
        return cls(
            **{
                **plain,
                "style": VoiceStyle(**style),
                "patterns": tuple(plain["patterns"]),
                "answers": tuple(plain["answers"]),
                "buttons": tuple((name, number) for name, number in plain["buttons"]),
            }
        )
