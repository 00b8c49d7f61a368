"""Each part of the voice on this machine: whether it works, what it is, what would mend it."""

from __future__ import annotations

import ctypes.util
import importlib.util
import json
import os
import subprocess
import sys
import tempfile
import threading
from collections.abc import Generator, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from runner.voice.microphone import Loudness

Finding = tuple[str, bool, str, str]
"""Part, whether it works, what it is in a sentence, and the one command that mends it."""

Answer = tuple[bool, str, str]

SYNTHESIS_SECONDS = 20

LISTENED = 2
"""Seconds of its sound for which the microphone is listened to."""


def probe() -> list[Finding]:
    """Try every part; never raises."""
    found: list[Finding] = []
    for part, look, remedy_of_last_resort in (
        ("synthesiser", _synthesiser, "pip install --force-reinstall pyttsx3 espeakng-loader"),
        ("PocketSphinx", _pocketsphinx, "pip install --force-reinstall pocketsphinx"),
        ("Vosk", _vosk, "pip install --force-reinstall vosk"),
        ("loudspeaker", _loudspeaker, "pip install --force-reinstall miniaudio"),
        ("microphone", _microphone, "pip install --force-reinstall miniaudio"),
        ("game controller", _controller, "pip install --force-reinstall pysdl2 pysdl2-dll"),
    ):
        try:
            with _errors_unheard():
                works, what, remedy = look()
        except Exception as error:
            # Whatever a driver or a model throws is the answer to what does not work.
            reason = str(error).splitlines()[0] if str(error) else type(error).__name__
            works, what, remedy = False, f"It cannot be used: {reason}.", remedy_of_last_resort
        found.append((part, works, what, remedy))
    return found


@contextmanager
def _errors_unheard() -> Iterator[None]:
    """Sound libraries print to standard error by themselves; what counts is what they say."""
    sys.stderr.flush()
    kept = os.dup(2)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 2)
    try:
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nowhere)


def _synthesiser() -> Answer:
    remedy = "pip install pyttsx3 espeakng-loader"
    with tempfile.TemporaryDirectory() as folder:
        wave = Path(folder) / "probe.wav"
        request = {"text": "checklist complete", "voice": "", "rate": 165, "file": str(wave)}
        try:
            done = subprocess.run(
                [sys.executable, "-m", "runner.voice.synthesis"],
                input=json.dumps(request).encode() + b"\n",
                capture_output=True,
                timeout=SYNTHESIS_SECONDS,
                check=False,
            )
        except subprocess.TimeoutExpired:
            reason = f"two words took it more than {SYNTHESIS_SECONDS} seconds"
            return False, f"It makes no speech: {reason}.", remedy
        answer = json.loads(done.stdout.splitlines()[0]) if done.stdout.strip() else {}
        if answer.get("ok"):
            return True, "It makes speech.", ""
        reason = answer.get("error") or "it ended without a word"
    return False, f"It makes no speech: {reason}.", remedy


def _pocketsphinx() -> Answer:
    try:
        import pocketsphinx
    except ImportError:
        return False, "It is not installed.", "pip install pocketsphinx"
    with tempfile.TemporaryDirectory() as folder:
        words = Path(folder) / "words.dict"
        words.write_text("a AH\n", encoding="ascii")
        try:
            pocketsphinx.Decoder(lm=None, dict=str(words), loglevel="FATAL")
        except (RuntimeError, ValueError):
            return (
                False,
                "Its English model, which is a part of its package, cannot be loaded.",
                "pip install --force-reinstall pocketsphinx",
            )
    return True, "It hears English with the model inside its package.", ""


def _vosk() -> Answer:
    from runner.voice.vosk_model import MODEL_VARIABLE, model_folder, takes_grammar

    word = "set" if sys.platform == "win32" else "export"
    remedy = f"{word} {MODEL_VARIABLE}=FOLDER"
    if importlib.util.find_spec("vosk") is None:
        return False, "It is not installed; the others listen without it.", "pip install vosk"
    folder = model_folder()
    if folder is None:
        return (
            False,
            "It has no model; the others listen without it. Unpack one and name its folder.",
            remedy,
        )
    if not any(folder.glob("**/final.mdl")):
        return (
            False,
            f"{folder} holds no model; right is a folder with am/final.mdl in it.",
            remedy,
        )
    others = sorted(path.parent.parent.name for path in folder.parent.glob("*/am/final.mdl"))
    others = [name for name in others if name != folder.name]
    limit = "" if takes_grammar(folder) else " It cannot be told what to listen for."
    more = f" Also there: {', '.join(others)}." if others else ""
    return True, f"The model {folder.name} is used.{limit}{more}", ""


def _loudspeaker() -> Answer:
    from runner.voice.devices import backends, list_devices

    names = [name for name, _ in list_devices("playback")]
    if not names:
        return _no_device("so Runner is silent and shows its questions", "headset or loudspeaker")
    import miniaudio

    there = f"There is {', '.join(names)}."
    try:
        device = miniaudio.PlaybackDevice(nchannels=1, sample_rate=16_000, backends=backends())
        device.close()
    except miniaudio.MiniaudioError as error:
        return (
            False,
            f"{there} The system's own choice cannot be opened ({error.args[0]}); "
            "choose another by a part of its name.",
            "runner fly --speaker-name NAME",
        )
    return True, there, ""


def _microphone() -> Answer:
    from runner.voice.devices import list_devices
    from runner.voice.microphone import CLIPPED_SHARE, SILENT_DBFS

    names = [name for name, _ in list_devices("capture")]
    if not names:
        return _no_device("so Runner hears keys alone", "headset or microphone")
    import miniaudio

    there = f"There is {', '.join(names)}."
    other = "runner fly --microphone-name NAME"
    try:
        loudness = _listen()
    except miniaudio.MiniaudioError as error:
        return (
            False,
            f"{there} The system's own choice cannot be opened ({error.args[0]}); "
            "choose another by a part of its name.",
            other,
        )
    level = f"{loudness.dbfs:.0f} dBFS in {LISTENED} seconds"
    if loudness.dbfs < SILENT_DBFS:
        gives = f"nothing but silence ({level})" if loudness.count else "no sound at all"
        return (
            False,
            f"{there} The system's own choice gives {gives}: unmute it, or choose another by a "
            "part of its name.",
            other,
        )
    if loudness.clipped > CLIPPED_SHARE:
        return (
            False,
            f"{there} The system's own choice clips ({level}, {loudness.clipped:.0%} of it at full "
            "scale): lower its recording level or move it from the mouth, and look again.",
            "runner doctor",
        )
    return True, f"{there} The system's own choice gives {level}.", ""


def _listen() -> Loudness:
    """How loud the system's own microphone is for LISTENED seconds; empty if it never wakes."""
    import miniaudio

    from runner.voice.devices import WAKING_SECONDS, backends
    from runner.voice.microphone import Loudness
    from runner.voice.recogniser import RATE

    loudness = Loudness()
    news = threading.Event()

    def listen() -> Generator[None, bytes, None]:
        # miniaudio talks to a generator that has been started.
        while True:
            sound = yield
            if loudness.count < LISTENED * RATE:
                loudness.take(bytes(sound))
            else:
                news.set()

    taker = listen()
    next(taker)
    device = miniaudio.CaptureDevice(
        nchannels=1, sample_rate=RATE, buffersize_msec=20, backends=backends()
    )
    device.start(taker)
    news.wait(WAKING_SECONDS + LISTENED)
    device.close()
    return loudness


def _no_device(so: str, wanted: str) -> Answer:
    # The library that talks to devices finds none without one of these.
    libraries = ("pulse", "asound", "jack")
    if sys.platform == "linux" and not any(map(ctypes.util.find_library, libraries)):
        return (
            False,
            f"There is none, {so}: this system has no sound library.",
            "sudo apt install libpulse0",
        )
    return False, f"There is none, {so}. Connect a {wanted} and look again.", "runner doctor"


def _controller() -> Answer:
    from runner.voice.controller import INSTALL, controllers, load_sdl, quit_sdl

    try:
        sdl = load_sdl()
    except ImportError:
        return False, "Its buttons need SDL, which is not installed.", INSTALL
    names = [name for _, name in controllers(sdl)]
    quit_sdl(sdl)
    if not names:
        return (
            False,
            "There is none; a key does the same. To use one, connect it and look again.",
            "runner doctor",
        )
    return True, f"There is {', '.join(names)}.", ""
