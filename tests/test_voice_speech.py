"""Speech made in a worker, kept on disk and in memory; and pronunciations for what is heard."""

from __future__ import annotations

import json
import os
import queue
import subprocess
import sys
import time
from pathlib import Path
from types import SimpleNamespace

import pytest

from runner.voice.pronounce import TRADE_WORDS, Dictionary, by_letters
from runner.voice.speech import SpeechStore, prune
from runner.voice.synthesis import choose_voice
from runner.voice.waves import seconds

Made = tuple[str, bytes | None, str]

PHONES = frozenset(
    [
        "AA",
        "AE",
        "AH",
        "AO",
        "AW",
        "AY",
        "B",
        "CH",
        "D",
        "DH",
        "EH",
        "ER",
        "EY",
        "F",
        "G",
        "HH",
        "IH",
        "IY",
        "JH",
        "K",
        "L",
        "M",
        "N",
        "NG",
        "OW",
        "OY",
        "P",
        "R",
        "S",
        "SH",
        "T",
        "TH",
        "UH",
        "UW",
        "V",
        "W",
        "Y",
        "Z",
        "ZH",
    ]
)
"""The 39 phones of the CMU Pronouncing Dictionary, version 0.7b (from memory)."""


def store(folder: Path, voice: str = "", rate: int = 165) -> tuple[SpeechStore, queue.Queue[Made]]:
    made: queue.Queue[Made] = queue.Queue()
    return SpeechStore(voice, rate, folder, lambda *entry: made.put(entry)), made


def test_speech_is_made_once_and_kept_on_disk_for_the_next_run(tmp_path: Path) -> None:
    first, made = store(tmp_path)
    first.want("Blowers, both low")
    text, sound, error = made.get(timeout=20)
    if sound is None:
        pytest.skip(f"no synthesiser here: {error}")
    assert text == "Blowers, both low"
    assert 0.5 < seconds(sound) < 3.0
    first.close()
    second, made = store(tmp_path)
    assert second.kept("Blowers, both low") == sound
    second.want("Blowers, both low")
    assert made.get_nowait()[1] == sound
    second.close()


def test_another_voice_rate_or_text_is_another_sound(tmp_path: Path) -> None:
    files = {
        store(tmp_path, voice, rate)[0].file_of(text)
        for voice in ("en-gb", "en-us")
        for rate in (150, 165)
        for text in ("low", "high")
    }
    assert len(files) == 8


def test_what_is_wanted_is_made_before_what_is_only_likely(tmp_path: Path) -> None:
    speech, made = store(tmp_path)
    speech.likely(["one", "two", "three", "four", "five", "six"])
    speech.want("stop")
    order = []
    while "stop" not in order:
        text, sound, error = made.get(timeout=20)
        if sound is None:
            pytest.skip(f"no synthesiser here: {error}")
        order.append(text)
    assert order.index("stop") <= 2
    speech.close()


def test_the_worker_prints_nothing_but_its_answers(tmp_path: Path) -> None:
    request = {"text": "low", "voice": "", "rate": 165, "file": str(tmp_path / "low.wav")}
    done = subprocess.run(
        [sys.executable, "-m", "runner.voice.synthesis"],
        input=json.dumps(request) + "\n",
        capture_output=True,
        text=True,
        timeout=30,
        check=True,
    )
    [line] = done.stdout.splitlines()
    assert json.loads(line)["file"] == request["file"]


def test_a_voice_is_chosen_by_id_name_or_language_or_part_of_them() -> None:
    voices = [
        SimpleNamespace(id="gmw/en-us", name="English (America)", languages=["en-us"]),
        SimpleNamespace(id="gmw/en", name="English (Great Britain)", languages=[b"\x05en-gb"]),
    ]
    assert choose_voice("en-gb", voices) == "gmw/en"
    assert choose_voice("great britain", voices) == "gmw/en"
    assert choose_voice("gmw/en", voices) == "gmw/en"
    assert choose_voice("klingon", voices) is None
    assert choose_voice("", voices) is None


def test_the_folder_keeps_its_size_and_loses_what_was_unused_for_longest(tmp_path: Path) -> None:
    now = time.time()
    for age in range(5):
        file = tmp_path / f"{age}.wav"
        file.write_bytes(bytes(100))
        os.utime(file, (now - age, now - age))
    prune(tmp_path, 250)
    assert sorted(file.name for file in tmp_path.iterdir()) == ["0.wav", "1.wav"]


@pytest.fixture(scope="module")
def dictionary() -> Dictionary:
    pocketsphinx = pytest.importorskip("pocketsphinx")
    return Dictionary(Path(pocketsphinx.get_model_path("en-us/cmudict-en-us.dict")))


@pytest.mark.outside
def test_words_of_the_dictionary_are_pronounced_as_it_has_them(dictionary: Dictionary) -> None:
    """CMU Pronouncing Dictionary as shipped with PocketSphinx 5.1, en-us/cmudict-en-us.dict."""
    assert dictionary.pronounce("low") == ("L OW",)
    assert dictionary.pronounce("flaps") == ("F L AE P S",)
    assert dictionary.pronounce("either") == ("IY DH ER", "AY DH ER")


def test_what_the_dictionary_lacks_is_built_from_what_it_has(dictionary: Dictionary) -> None:
    assert dictionary.pronounce("crossfeed") == ("K R AO S F IY D",)
    assert dictionary.pronounce("unfeathered") == ("AH N F EH DH ER D",)
    assert "crossfeed" not in dictionary.guessed


def test_any_word_gets_phones_that_exist_and_a_guess_is_told(dictionary: Dictionary) -> None:
    for word in ("zibbledorf", "qwrt", "phlogisticon", "intercooler", *TRADE_WORDS):
        for pronunciation in dictionary.pronounce(word):
            assert pronunciation and set(pronunciation.split()) <= PHONES, word
    assert {"zibbledorf", "qwrt"} <= dictionary.guessed
    assert dictionary.pronounce("'") == ()


def test_a_silent_e_makes_the_vowel_before_it_long() -> None:
    assert by_letters("blape") == "B L EY P"
    assert by_letters("blap") == "B L AE P"


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="looks into /proc")
def test_a_synthesiser_ends_with_whoever_started_it() -> None:
    # Its standard input stays open here, so that only the parent's end can tell it.
    read, write = os.pipe()
    parent = subprocess.run(
        [
            *(sys.executable, "-c"),
            "import subprocess, sys; print(subprocess.Popen([sys.executable, '-m', "
            "'runner.voice.synthesis'], stdin=int(sys.argv[1]), stdout=subprocess.DEVNULL, "
            "close_fds=False).pid, flush=True); import time; time.sleep(1)",
            str(read),
        ],
        stdout=subprocess.PIPE,
        pass_fds=(read,),
        check=True,
        text=True,
    )
    end = time.monotonic() + 20
    try:
        while Path(f"/proc/{int(parent.stdout)}").exists():
            assert time.monotonic() < end, "it outlives its parent"
            time.sleep(0.1)
    finally:
        os.close(write)
        os.close(read)
