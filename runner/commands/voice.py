"""``runner voice``: who hears and who speaks on this machine, and Vosk's models.

One function adds each sub-command and one does its work; ``enrol`` has a file of its own.
"""

from __future__ import annotations

import argparse
import importlib.util
import shutil
import sys
import textwrap
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

from runner.commands.enrol import add_enrol
from runner.errors import NO_DEVICE, RunnerError

if TYPE_CHECKING:
    from runner.phrasing.style import VoiceStyle

Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"

SPEAKING_SECONDS = 30
"""Making a phrase may take the synthesiser so long."""

CELLS = 30
STEPS = 10
"""Cells of a bar on a terminal; lines of a stage where there is none."""


def add_voice(commands: Commands) -> None:
    """The sub-commands of ``runner voice``."""
    _add_list(commands)
    _add_try(commands)
    add_enrol(commands)
    _add_install(commands)


def _add(
    commands: Commands, name: str, about: str, *examples: str, more: str = ""
) -> argparse.ArgumentParser:
    return commands.add_parser(
        name,
        help=about,
        description=about[0].upper() + about[1:] + "." + more,
        epilog="examples:\n" + "\n".join(f"  {example}" for example in examples),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )


def _add_list(commands: Commands) -> None:
    sub = _add(
        commands,
        "list",
        "list the recognisers, their models, and the synthesiser's voices",
        "runner voice list",
    )
    sub.set_defaults(command=list_voices)


def _add_try(commands: Commands) -> None:
    sub = _add(
        commands,
        "try",
        "speak a text as Runner would in flight",
        "runner voice try 'Before take-off checklist, flaps 20' --voice icao",
        "runner voice try 'Gear down' --synthesiser-voice en-us --speak wav:spoken",
    )
    sub.add_argument("text", nargs="+", metavar="TEXT")
    sub.add_argument(
        "--voice", default="cockpit", metavar="STYLE", help="cockpit, icao, faa, or a file"
    )
    sub.add_argument(
        "--synthesiser-voice",
        default="",
        metavar="VOICE",
        help="one of 'runner voice list' instead of the style's own",
    )
    sub.add_argument(
        "--speak", default="speaker", metavar="HOW", help="speaker (the default), or wav:DIR"
    )
    sub.add_argument("--speaker-name", default="", metavar="NAME", help="a part of its name")
    sub.set_defaults(command=try_voice)


def _add_install(commands: Commands) -> None:
    sub = _add(
        commands,
        "install",
        "install a Vosk model from a zip file or from the net",
        "runner voice install my-model.zip --name english",
        "runner voice install https://models.invalid/english.zip --sha256 9f86d0...",
        more=(
            " The model is loaded once before it takes the\nplace of one of the same name; "
            "an interrupted download goes on where it stopped."
        ),
    )
    sub.add_argument("source", metavar="FILE.zip|URL")
    sub.add_argument(
        "--sha256", default="", metavar="HEX", help="refuse the file when its SHA-256 is another"
    )
    sub.add_argument(
        "--name", default="", metavar="NAME", help="what it is called here (default: its own name)"
    )
    sub.set_defaults(command=install_model)


def list_voices(arguments: argparse.Namespace) -> int:
    """Print a line for each recogniser, model, style and voice; always 0."""
    del arguments
    from runner.voice.roster import in_words, roster
    from runner.voice.voices import speaking_voices

    print("Recognisers:")
    print(f"  matcher: {_matcher()}")
    for line in (*_vosk(), *_whisper()):
        print(f"  {line}")
    print(f"  pocketsphinx: {_pocketsphinx()}")
    width = min(shutil.get_terminal_size().columns, 100)
    print(
        textwrap.fill(
            in_words(roster()),
            width,
            initial_indent="  ",
            subsequent_indent="  ",
            break_long_words=False,
            break_on_hyphens=False,
        )
    )
    try:
        voices = speaking_voices()
    except RunnerError as error:
        print(f"Synthesiser: does not work: {error}; runner doctor says what mends it.")
        return 0
    print(f"Synthesiser: works, {len(voices)} voices:")
    width = max((len(voice.id) for voice in voices), default=0)
    for voice in voices:
        languages = f" ({', '.join(voice.languages)})" if voice.languages else ""
        print(f"  {voice.id:<{width}}  {voice.name}{languages}")
    return 0


def _matcher() -> str:
    missing = [
        name for name in ("onnxruntime", "openwakeword") if importlib.util.find_spec(name) is None
    ]
    if missing:
        return f"does not work: pip install {' '.join(missing)}"
    from runner.voice.takes import Takes

    count = len(Takes().phrases())
    whose = f"{count} phrases in your own voice" if count else "with synthetic voices"
    return f"works, {whose}; runner voice enrol records {'more' if count else 'yours'}."


def _pocketsphinx() -> str:
    if importlib.util.find_spec("pocketsphinx") is None:
        return "does not work: pip install pocketsphinx"
    return "works, English, the model of its own package."


def _vosk() -> list[str]:
    from runner.voice.vosk_model import (
        MODEL_VARIABLE,
        installed_models,
        model_folder,
        models_home,
        takes_grammar,
    )

    if importlib.util.find_spec("vosk") is None:
        return ["vosk: does not work: pip install vosk"]
    used = model_folder()
    models = list(installed_models())
    if used is None:
        return ["vosk: has no model; runner voice install FILE.zip brings one."]
    if used not in models:
        models.insert(0, used)
    lines = []
    for model in models:
        name = model.name if model.parent == models_home() else str(model)
        if not any(model.glob("**/final.mdl")):
            works = f"does not work: no am/final.mdl in that folder ({MODEL_VARIABLE})"
        else:
            listens = (
                "listens for the window's answers alone"
                if takes_grammar(model)
                else "has a fixed graph and cannot be told what to listen for"
            )
            works = f"{listens}, {_used(model, used, MODEL_VARIABLE)}."
        lines.append(f"vosk: model {name}: {works}")
    return lines


def _whisper() -> list[str]:
    from runner.voice.vosk_model import models_home
    from runner.voice.whisper import MODEL_VARIABLE, installed_models, missing_parts, model_folder

    used = model_folder()
    if used is None:
        return [f"whisper: has no model; name its folder in {MODEL_VARIABLE}."]
    lines = []
    for model in dict.fromkeys((used, *installed_models())):
        name = model.name if model.parent == models_home() else str(model)
        lacking = missing_parts(model)
        if lacking:
            works = f"does not work: no {', no '.join(lacking)} in that folder ({MODEL_VARIABLE})"
        elif importlib.util.find_spec("faster_whisper") is None:
            works = "does not work: pip install faster-whisper"
        else:
            works = f"writes down whatever is said, {_used(model, used, MODEL_VARIABLE)}."
        lines.append(f"whisper: model {name}: {works}")
    return lines


def _used(model: Path, used: Path, variable: str) -> str:
    if model == used:
        return "used"
    word = "set" if sys.platform == "win32" else "export"
    return f"used after {word} {variable}={model.name}"


def try_voice(arguments: argparse.Namespace) -> int:
    """Speak the text in the style; raises ``RunnerError`` where that cannot be done."""
    from runner.checklist.cache import load_voice_cached
    from runner.checklist.load import find_file
    from runner.phrasing.speech import speak_text

    kind, _, folder = arguments.speak.partition(":")
    if kind not in ("speaker", "wav") or (kind == "wav") != bool(folder):
        raise RunnerError(f"--speak {arguments.speak}: right would be speaker or wav:DIR")
    style = load_voice_cached(find_file(arguments.voice, ("voices",)))
    if arguments.synthesiser_voice:
        style = replace(style, synthesiser_voice=_known_voice(arguments.synthesiser_voice))
    text = speak_text(" ".join(arguments.text), style)
    if not text:
        raise RunnerError("there is nothing to be said in that text")
    print(f"{arguments.voice}: {text}")
    _play(_made(text, style), Path(folder) if folder else None, arguments.speaker_name)
    return 0


def _known_voice(wanted: str) -> str:
    from runner.voice.synthesis import choose_voice
    from runner.voice.voices import speaking_voices

    if choose_voice(wanted, speaking_voices()) is None:
        raise RunnerError(
            f"--synthesiser-voice {wanted}: no such voice; runner voice list names them"
        )
    return wanted


def _made(text: str, style: VoiceStyle) -> bytes:
    import queue

    from runner.voice.speech import SpeechStore, default_folder

    made: queue.Queue[tuple[bytes | None, str]] = queue.Queue()
    store = SpeechStore(
        style.synthesiser_voice,
        style.rate,
        default_folder(),
        lambda _, sound, error: made.put((sound, error)),
    )
    try:
        store.want(text)
        sound, error = made.get(timeout=SPEAKING_SECONDS)
    except queue.Empty:
        sound, error = None, f"it took more than {SPEAKING_SECONDS} seconds"
    finally:
        store.close()
    if not sound:
        raise RunnerError(f"the synthesiser makes no speech: {error}; runner doctor says more")
    return sound


def _play(sound: bytes, folder: Path | None, speaker: str) -> None:
    import threading

    import miniaudio

    from runner.voice.devices import WAKING_SECONDS, list_devices
    from runner.voice.player import FilePlayer, Sound, SpeakerPlayer
    from runner.voice.waves import seconds

    if folder is None and not list_devices("playback"):
        # Opening what is not there makes sound libraries print lines of their own.
        raise RunnerError("there is no loudspeaker; --speak wav:DIR writes a file", NO_DEVICE)
    ended = threading.Event()
    player: FilePlayer | SpeakerPlayer
    try:
        if folder is not None:
            player = FilePlayer(folder, 0, lambda *_: None, lambda *_: ended.set())
        else:
            player = SpeakerPlayer(speaker, lambda *_: None, lambda *_: ended.set())
    except OSError as error:
        raise RunnerError(f"{folder}: {error.strerror}") from error
    except miniaudio.MiniaudioError as error:
        raise RunnerError(f"no loudspeaker can be opened ({error.args[0]})", NO_DEVICE) from error
    try:
        player.play(Sound(1, sound))
        heard = ended.wait(seconds(sound) + WAKING_SECONDS)
        if heard and folder is None:
            # The device hands the last samples over before they are heard.
            threading.Event().wait(0.15)
    finally:
        player.close()
    if not heard:
        raise RunnerError("the loudspeaker does not play what it is given", NO_DEVICE)


def install_model(arguments: argparse.Namespace) -> int:
    """Install a model and say which one is used now."""
    from runner.voice.download import is_url, megabytes
    from runner.voice.install import install
    from runner.voice.vosk_model import MODEL_VARIABLE, model_folder

    progress = _Progress()
    try:
        done = install(arguments.source, progress.told, arguments.sha256, arguments.name)
    except KeyboardInterrupt:
        progress.end()
        on = "; the same command goes on from there" if is_url(arguments.source) else ""
        print(f"Stopped{on}. Nothing was changed.", file=sys.stderr)
        return 1
    finally:
        progress.end()
    verb = "is replaced" if done.replaced else "is installed"
    grammar = "" if done.closed else " It has a fixed graph and cannot be told what to listen for."
    print(f"The model {done.folder.name} {verb}, {megabytes(done.size)}.{grammar}")
    used = model_folder()
    if used is not None and used != done.folder:
        when = _used(done.folder, used, MODEL_VARIABLE)
        print(f"The model {used.name} is used; this one is {when}.")
    return 0


class _Progress:
    """A bar on a terminal, a line for each tenth elsewhere."""

    def __init__(self) -> None:
        self._terminal = sys.stderr.isatty()
        self._stage = ""
        self._step = -1
        self._open = False

    def told(self, stage: str, done: int, whole: int) -> None:
        """Show how far a stage is: bytes done of the whole (0: not known)."""
        from runner.voice.download import megabytes

        share = min(1.0, done / whole) if whole else 0.0
        # What has no known length is told each ten million bytes.
        step = int(share * (100 if self._terminal else STEPS)) if whole else done // 10_000_000
        if stage == self._stage and step == self._step:
            return
        if stage != self._stage:
            self.end()
        self._stage, self._step = stage, step
        size = f" {megabytes(done)}" + (f" of {megabytes(whole)}" if whole else "") if done else ""
        if not self._terminal:
            percent = f" {share:.0%}," if whole else ""
            print(f"{stage}{percent}{size}" if done else f"{stage} ...", file=sys.stderr)
            return
        bar = f" [{'#' * int(share * CELLS):-<{CELLS}}] {share:4.0%}" if whole else ""
        columns = shutil.get_terminal_size().columns
        sys.stderr.write(f"\r{(stage + bar + size)[: columns - 1]}\033[K")
        sys.stderr.flush()
        self._open = True

    def end(self) -> None:
        """The line that is being drawn is finished."""
        if self._open:
            sys.stderr.write("\n")
            self._open = False
        self._stage = ""
