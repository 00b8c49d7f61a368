"""Devices chosen by name, lost and found again in a run; other rates; silence and clipping."""

from __future__ import annotations

import asyncio
import contextlib
import math
import os
import queue
import subprocess
import sys
import threading
import time
from array import array
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import pytest

from flying import WEIGHT
from runner.engine.effects import Listen
from runner.errors import NO_DEVICE, RunnerError
from runner.voice.devices import find_device, list_devices
from runner.voice.microphone import Loudness, Watch
from runner.voice.waves import write_wav
from sound import SoundSystem, loudness, voices
from test_voice_process import LISTEN, Crew, settings

MICROPHONE = "Carbon headset"
LOUDSPEAKER = "Brass horn"
QUESTION = "this is a long question that nobody heard"
SECONDS_TO_FIND_IT = 10.0


def pactl(*arguments: str) -> str:
    done = subprocess.run(["pactl", *arguments], capture_output=True, text=True, check=True)
    return done.stdout.strip()


def described(name: str) -> str:
    return f"\"device.description='{name}'\""


def plug_microphone(name: str = MICROPHONE, hears: str = "mouth") -> str:
    """A microphone that hears what is played into a sink; gives what unplugs it."""
    return pactl(
        *("load-module", "module-virtual-source", f"source_name={name.split()[-1]}"),
        *(f"master={hears}.monitor", f"source_properties={described(name)}"),
    )


def plug_loudspeaker(name: str = LOUDSPEAKER, *more: str) -> str:
    """A loudspeaker, recorded from ``horn.monitor``; gives what unplugs it."""
    return pactl(
        *("load-module", "module-null-sink", f"sink_name={name.split()[-1]}"),
        *(f"sink_properties={described(name)}", *more),
    )


def unplug(module: str) -> None:
    pactl("unload-module", module)


def module_of(part: str) -> str:
    """The module that was loaded with these words."""
    listed = pactl("list", "short", "modules").splitlines()
    return next(line.split("\t")[0] for line in listed if part in line)


async def told(crew: Crew, count: int, seconds: float = SECONDS_TO_FIND_IT) -> str:
    """The trouble of that number, as soon as it is told."""
    end = time.monotonic() + seconds
    while len(crew.troubles) < count:
        assert time.monotonic() < end, f"never told: {crew.troubles}"
        await asyncio.sleep(0.02)
    return crew.troubles[count - 1]


async def answered(crew: Crew, sound: SoundSystem, times: int = 3) -> str:
    """Say the right answer until it is accepted, at most so often; gives its candidate."""
    for window in range(10, 10 + times):
        crew.voice.listen(replace(LISTEN, window=window))
        await asyncio.to_thread(sound.answer, voices()[0], "low blower")
        try:
            _, verdict = await asyncio.wait_for(crew.heard.get(), 1.5)
        except TimeoutError:
            continue
        if verdict.decision == "accept":
            return verdict.candidate or ""
    return "nothing"


@contextmanager
def steadily(file: Path, sink: str = "mouth") -> Iterator[None]:
    """Play a file into a sink while the block lasts, as often as it takes."""
    over = threading.Event()

    def play() -> None:
        while not over.is_set():
            subprocess.run(["paplay", f"--device={sink}", str(file)], check=False)

    playing = threading.Thread(target=play)
    playing.start()
    try:
        yield
    finally:
        over.set()
        playing.join()


def wave_file(file: Path, level: float, seconds: float = 1.0) -> Path:
    """A sine of 300 Hz whose peak is ``level`` times full scale, cut off at full scale."""
    samples = array("h")
    for at in range(round(16_000 * seconds)):
        value = 32_767 * level * math.sin(2 * math.pi * 300 * at / 16_000)
        samples.append(round(max(-32_767, min(32_767, value))))
    write_wav(file, samples.tobytes(), 16_000)
    return file


@pytest.mark.sound
async def test_a_microphone_chosen_by_name_is_waited_for_and_no_other_takes_its_place(
    sound: SoundSystem, tmp_path: Path
) -> None:
    carbon = plug_microphone()
    plug_microphone(f"Second {MICROPHONE.lower()} two")
    crew = Crew(settings(tmp_path, listen="mic", microphone="carbon"))
    await crew.voice.start()
    assert (await crew.voice.wait_ready())["hears"] is True
    assert await answered(crew, sound) == "answer"
    unplug(carbon)
    gone = f"the microphone {MICROPHONE!r} is gone: answer with the keys until it is there again"
    assert await told(crew, 1) == gone
    assert await answered(crew, sound, times=1) == "nothing"
    plug_microphone()
    assert await told(crew, 2) == f"the microphone {MICROPHONE!r} is there again"
    assert await answered(crew, sound) == "answer"
    assert len(crew.troubles) == 2
    await crew.voice.stop()


@pytest.mark.sound
async def test_the_loudspeakers_own_sound_is_no_microphone_in_place_of_a_lost_one(
    sound: SoundSystem, tmp_path: Path
) -> None:
    states: list[str] = []
    crew = Crew(settings(tmp_path, listen="mic"))
    crew.voice.on_level = lambda _, state: states.append(state)
    await crew.voice.start()
    await crew.voice.wait_ready()
    assert await answered(crew, sound) == "answer"
    unplug(module_of("source_name=mic"))
    assert await told(crew, 1) == (
        "the microphone is gone: answer with the keys until it is there again"
    )
    assert states[-1] == "no microphone"
    pactl("load-module", "module-virtual-source", "source_name=mic", "master=mouth.monitor")
    assert await told(crew, 2) == "the microphone is there again"
    assert await answered(crew, sound) == "answer"
    await crew.voice.stop()


@pytest.mark.sound
async def test_a_microphone_slow_to_wake_is_not_called_gone(
    sound: SoundSystem, tmp_path: Path
) -> None:
    plug_microphone()
    pactl("suspend-source", "headset", "1")
    crew = Crew(settings(tmp_path, listen="mic", microphone=MICROPHONE))
    await crew.voice.start()
    await crew.voice.wait_ready()
    await asyncio.sleep(4.0)
    pactl("suspend-source", "headset", "0")
    assert await answered(crew, sound) == "answer"
    assert crew.troubles == []
    await crew.voice.stop()


@pytest.mark.sound
async def test_a_question_whose_loudspeaker_went_is_said_again_from_its_beginning(
    sound: SoundSystem, tmp_path: Path
) -> None:
    horn = plug_loudspeaker()
    crew = Crew(settings(tmp_path, speak="speaker", speaker="brass"))
    await crew.voice.start()
    await crew.voice.wait_ready()
    with sound.recorded("first", "horn.monitor") as first:
        crew.voice.say(1, QUESTION, "prompt")
        assert await crew.next_said() == (1, True)
    crew.voice.say(2, QUESTION, "prompt")
    await asyncio.sleep(1.0)
    unplug(horn)
    assert await crew.next_said() == (2, False)
    gone = "is gone: going on without speech until it is there again"
    assert await told(crew, 1) == f"the loudspeaker {LOUDSPEAKER!r} {gone}"
    crew.voice.say(3, "urgent and too late afterwards", "urgent")
    assert await crew.next_said() == (3, False)
    plug_loudspeaker()
    with sound.recorded("again", "horn.monitor") as again:
        back = f"the loudspeaker {LOUDSPEAKER!r} is there again: speech goes on"
        assert await told(crew, 2) == back
        await asyncio.sleep(loudness(first)[0] + 1.0)
    assert loudness(again)[0] == pytest.approx(loudness(first)[0], abs=0.2)
    crew.voice.say(4, "Blowers?", "prompt")
    assert await crew.next_said() == (4, True)
    assert len(crew.troubles) == 2 and crew.said.empty()
    await crew.voice.stop()


@pytest.mark.sound
async def test_a_question_answered_meanwhile_is_not_said_again(
    sound: SoundSystem, tmp_path: Path
) -> None:
    unplug(plug_loudspeaker())
    horn = plug_loudspeaker()
    crew = Crew(settings(tmp_path, speak="speaker", speaker=LOUDSPEAKER))
    await crew.voice.start()
    await crew.voice.wait_ready()
    crew.voice.say(1, "Flaps?", "prompt")
    assert await crew.next_said() == (1, True)
    unplug(horn)
    await told(crew, 1)
    crew.voice.say(2, QUESTION, "prompt")
    assert await crew.next_said() == (2, False)
    crew.voice.close(1)
    plug_loudspeaker()
    with sound.recorded("again", "horn.monitor") as again:
        await told(crew, 2)
        await asyncio.sleep(1.5)
    assert loudness(again)[0] == 0.0
    await crew.voice.stop()


@pytest.mark.sound
async def test_both_devices_come_back_with_the_sound_server(
    sound: SoundSystem, tmp_path: Path
) -> None:
    crew = Crew(settings(tmp_path, speak="speaker", listen="mic"))
    await crew.voice.start()
    await crew.voice.wait_ready()
    crew.voice.say(1, "Flaps?", "prompt")
    assert await crew.next_said() == (1, True)
    server = sound._server
    server.kill()
    server.wait()
    await told(crew, 2)
    crew.voice.say(2, "Blowers?", "prompt")
    assert await crew.next_said() == (2, False)
    sound._server = subprocess.Popen(
        server.args, stdin=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    await told(crew, 4, 15.0)
    crew.voice.say(3, "Blowers?", "prompt")
    assert await crew.next_said() == (3, True)
    assert await answered(crew, sound) == "answer"
    assert sorted(crew.troubles[:2]) == [
        "the loudspeaker is gone: going on without speech until it is there again",
        "the microphone is gone: answer with the keys until it is there again",
    ]
    assert sorted(crew.troubles[2:]) == [
        "the loudspeaker is there again: speech goes on",
        "the microphone is there again",
    ]
    await crew.voice.stop()


@pytest.mark.sound
@pytest.mark.parametrize(
    ("rate", "channels", "fewest"),
    [(48_000, 2, 2), (44_100, 2, 2), (22_050, 1, 2), (16_000, 1, 2), (8_000, 1, 0)],
)
async def test_an_answer_is_heard_through_a_microphone_of_any_rate(
    sound: SoundSystem, tmp_path: Path, rate: int, channels: int, fewest: int
) -> None:
    """At 8 kHz half of the consonants' band is missing: then it may reject, never mistake."""
    plug_loudspeaker("Pilots mouth2", f"rate={rate}", f"channels={channels}")
    plug_microphone(hears="mouth2")
    assert f"{channels}ch {rate}Hz" in pactl("list", "short", "sources")
    crew = Crew(settings(tmp_path, listen="mic", microphone=MICROPHONE))
    await crew.voice.start()
    await crew.voice.wait_ready()
    decided: list[str] = []
    heard = 0
    for window, voice in enumerate(voices()[:4], 1):
        crew.voice.listen(Listen(window, LISTEN.candidates))
        file = sound.recording(voice, "low blower")
        await asyncio.to_thread(
            subprocess.run, ["paplay", "--device=mouth2", str(file)], check=True
        )
        with contextlib.suppress(TimeoutError):
            _, verdict = await asyncio.wait_for(crew.heard.get(), 2.0)
            heard += 1
            if verdict.decision == "accept":
                decided.append(str(verdict.candidate))
    assert heard >= len(voices()[:4]) - 1
    assert set(decided) <= {"answer"} and len(decided) >= fewest
    assert crew.troubles == []
    await crew.voice.stop()


@pytest.mark.sound
@pytest.mark.usefixtures("sound")
async def test_a_microphone_that_gives_silence_or_clips_is_named_once(
    tmp_path: Path,
) -> None:
    crew = Crew(settings(tmp_path, listen="mic"))
    await crew.voice.start()
    await crew.voice.wait_ready()
    assert await told(crew, 1, 15.0) == (
        "the microphone gives nothing but silence: unmute it, or answer with the keys"
    )
    with steadily(wave_file(tmp_path / "loud.wav", 4.0, 3.0)):
        assert await told(crew, 2) == (
            "the microphone clips, so words are heard badly: lower its recording level"
        )
        await asyncio.sleep(1.0)
    assert len(crew.troubles) == 2
    await crew.voice.stop()


@pytest.mark.parametrize(
    ("level", "dbfs", "clipped"),
    [(0.0, -120.0, 0.0), (0.5, -9.03, 0.0), (0.001, -63.0, 0.0), (2.0, -1.0, 0.66)],
)
def test_the_level_of_a_sine_is_three_decibels_below_its_peak(
    tmp_path: Path, level: float, dbfs: float, clipped: float
) -> None:
    """A sine's root mean square is its peak over the square root of two: common practice."""
    measured = Loudness()
    file = wave_file(tmp_path / "sine.wav", level)
    measured.take(file.read_bytes()[44:])
    assert measured.dbfs == pytest.approx(dbfs, abs=0.4)
    assert measured.clipped == pytest.approx(clipped, abs=0.03)


def test_a_knock_does_not_clip_and_a_headset_that_shuts_itself_is_not_silent() -> None:
    watch = Watch()
    knock = array("h", [32_767] * 400 + [300, -300] * 7_800).tobytes()
    speech = array("h", [3_000, -3_000] * 8_000).tobytes()
    seconds = [knock, *[speech] * 3, *[bytes(32_000)] * 50]
    assert [watch.take(second) for second in seconds] == [""] * len(seconds)
    more = [watch.take(bytes(32_000)) for _ in range(150)]
    assert len([text for text in more if "silence" in text]) == 1


@pytest.mark.sound
@pytest.mark.usefixtures("sound")
def test_a_device_is_found_by_a_part_of_its_name_and_when_lost_by_the_whole() -> None:
    plug_microphone()
    plug_microphone(f"{MICROPHONE} two")
    first = find_device("capture", "CARBON HEAD")
    assert first is not None and first[0] == MICROPHONE
    second = find_device("capture", "two")
    assert second is not None and second[0] == f"{MICROPHONE} two"
    with pytest.raises(RunnerError, match=r"there is: .*Carbon") as caught:
        find_device("capture", "carbon head", whole=True)
    assert caught.value.status == NO_DEVICE
    assert not [name for name, _ in list_devices("capture") if name.startswith("Monitor of ")]


@pytest.mark.sound
def test_a_flight_goes_on_with_the_keys_while_its_headset_is_unplugged(
    sound: SoundSystem, tmp_path: Path
) -> None:
    carbon, horn = plug_microphone(), plug_loudspeaker()
    keyboard, terminal = os.openpty()
    command = [sys.executable, "-m", "runner", "fly", "--screen", "plain"]
    flight = subprocess.Popen(
        [
            *command,
            *("--logbook", str(tmp_path / "logbook.sqlite3"), "--phase", "before-takeoff"),
            *("--set", WEIGHT, "--microphone-name", "carbon", "--speaker-name", "brass"),
        ],
        stdin=terminal,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env=dict(os.environ),
    )
    assert flight.stdout is not None
    lines: queue.SimpleQueue[str] = queue.SimpleQueue()
    source = flight.stdout
    threading.Thread(target=lambda: [lines.put(line) for line in source], daemon=True).start()

    def wait_for(*wanted: str) -> None:
        left, seen, end = set(wanted), "", time.monotonic() + 15
        while left:
            assert time.monotonic() < end, f"never printed: {left}\n{seen}"
            try:
                line = lines.get(timeout=0.1)
            except queue.Empty:
                continue
            seen += line
            left = {text for text in left if text not in line}

    try:
        wait_for("Runner: Before take-off checklist. Runway surface")
        time.sleep(2.5)
        unplug(carbon)
        unplug(horn)
        wait_for(f"{MICROPHONE!r} is gone", f"{LOUDSPEAKER!r} is gone")
        os.write(keyboard, b"dry runway\n")
        wait_for("Runway surface: dry", "Flaps?")
        plug_microphone()
        plug_loudspeaker()
        with sound.recorded("again", "horn.monitor") as again:
            wait_for(f"{MICROPHONE!r} is there again", f"{LOUDSPEAKER!r} is there again")
            time.sleep(1.5)
        assert loudness(again)[0] > 0.2
        sound.answer(voices()[0], "flaps twenty")
        wait_for("Flaps: ")
    finally:
        flight.terminate()
        flight.wait(10)
        os.close(keyboard)
        os.close(terminal)
