"""Each part of the voice on this machine: whether it works, what it is, what would mend it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Generator, Iterator
from contextlib import contextmanager
from pathlib import Path

Finding = tuple[str, bool, str, str]
"""Part, whether it works, what it is in a sentence, and the one command that mends it."""

LISTENED = 0.4
"""Seconds that the microphone is listened to."""

FAINT = 3
"""A peak of so many steps of 32,768 or fewer in LISTENED seconds is a silent microphone."""


def probe() -> list[Finding]:
    """Try every part; never raises."""
    found: list[Finding] = []
    for part, look in (
        ("synthesiser", _synthesiser),
        ("PocketSphinx", _pocketsphinx),
        ("Vosk", _vosk),
        ("loudspeaker", _loudspeaker),
        ("microphone", _microphone),
        ("game controller", _controller),
    ):
        try:
            with _errors_unheard():
                works, what, remedy = look()
        except Exception as error:
            # Whatever a driver or a model throws is the answer to what does not work.
            reason = str(error).splitlines()[0] if str(error) else type(error).__name__
            works, what, remedy = False, f"It cannot be used: {reason}.", "pip install -e ."
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


def _synthesiser() -> tuple[bool, str, str]:
    with tempfile.TemporaryDirectory() as folder:
        wave = Path(folder) / "probe.wav"
        request = {"text": "checklist complete", "voice": "", "rate": 165, "file": str(wave)}
        done = subprocess.run(
            [sys.executable, "-m", "runner.voice.synthesis"],
            input=json.dumps(request).encode() + b"\n",
            capture_output=True,
            timeout=20,
            check=False,
        )
        answer = json.loads(done.stdout.splitlines()[0]) if done.stdout.strip() else {}
        if answer.get("ok"):
            return True, "It makes speech.", ""
        reason = answer.get("error") or "it ended without a word"
    return False, f"It makes no speech: {reason}.", "pip install pyttsx3 espeakng-loader"


def _pocketsphinx() -> tuple[bool, str, str]:
    try:
        import pocketsphinx
    except ImportError:
        return False, "It is not installed.", "pip install pocketsphinx"
    model = Path(str(pocketsphinx.get_model_path())) / "en-us"
    if not (model / "en-us" / "mdef").exists():
        return (
            False,
            f"Its English model is not at {model}.",
            ("pip install --force-reinstall pocketsphinx"),
        )
    return True, "It hears English with the model inside its package.", ""


def _vosk() -> tuple[bool, str, str]:
    from runner.voice.vosk_model import MODEL_VARIABLE, model_folder, takes_grammar

    folder = model_folder()
    if folder is None:
        return (
            False,
            "It has no model; PocketSphinx listens alone.",
            (f"export {MODEL_VARIABLE}=FOLDER   (an unpacked Vosk model)"),
        )
    if not any(folder.glob("**/final.mdl")):
        return (
            False,
            f"{folder} holds no model.",
            (f"export {MODEL_VARIABLE}=FOLDER   (a folder with am/final.mdl in it)"),
        )
    limit = "" if takes_grammar(folder) else " It cannot be told what to listen for."
    return True, f"The model {folder.name} is there.{limit}", ""


def _loudspeaker() -> tuple[bool, str, str]:
    from runner.voice.devices import list_devices

    names = [name for name, _ in list_devices("playback")]
    if names:
        return True, f"There is {', '.join(names)}.", ""
    return (
        False,
        "There is none, so Runner is silent and shows its questions.",
        ("connect a headset or loudspeaker, then run: runner doctor"),
    )


def _microphone() -> tuple[bool, str, str]:
    from runner.voice.devices import backends, list_devices

    names = [name for name, _ in list_devices("capture")]
    if not names:
        return (
            False,
            "There is none, so Runner hears keys alone.",
            ("connect a headset or microphone, then run: runner doctor"),
        )
    import miniaudio

    peak = [0]

    def listen() -> Generator[None, bytes, None]:
        # miniaudio talks to a generator that has been started.
        while True:
            sound = yield
            samples = memoryview(sound).cast("h")
            peak[0] = max(peak[0], max(samples, default=0), -min(samples, default=0))

    taker = listen()
    next(taker)
    device = miniaudio.CaptureDevice(nchannels=1, sample_rate=16_000, backends=backends())
    device.start(taker)
    time.sleep(LISTENED)
    device.close()
    there = f"There is {', '.join(names)}."
    if peak[0] <= FAINT:
        return (
            False,
            f"{there} The system's own choice gives nothing but silence.",
            ("unmute it or choose another: runner fly --microphone-name NAME"),
        )
    return True, there, ""


def _controller() -> tuple[bool, str, str]:
    from runner.voice.controller import controllers, load_sdl

    try:
        names = [name for _, name in controllers(load_sdl())]
    except ImportError:
        return (
            False,
            "Its buttons need a library that is not installed.",
            ("pip install 'runner-checklists[controller]'"),
        )
    if not names:
        return (
            False,
            "There is none; a key does the same.",
            ("connect one, then run: runner doctor"),
        )
    return True, f"There is {', '.join(names)}.", ""
