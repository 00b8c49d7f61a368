"""The voice process without devices: files in place of them, and what happens when it dies."""

from __future__ import annotations

import asyncio
import os
import signal
import subprocess
import sys
import wave
from pathlib import Path

import pytest

from runner.engine.effects import Candidate, Listen, NumberWanted
from runner.engine.events import Proposal, Verdict
from runner.errors import NO_DEVICE, WRONG_INPUT, RunnerError
from runner.phrasing.style import Form, VoiceStyle
from runner.voice.client import VoiceProcess
from runner.voice.messages import listen_from_json, listen_to_json
from runner.voice.settings import VoiceSettings
from runner.voice.waves import RATE, read_wav
from sound import speak_to_file, voices

LISTEN = Listen(
    1,
    (
        Candidate("answer", "answer", "low blower"),
        Candidate("wrong:0", "competitor", "high blower"),
        Candidate("control:say_again", "control", "say again"),
    ),
)


class Crew:
    """A voice process and all that it reported, in order."""

    def __init__(self, settings: VoiceSettings) -> None:
        self.voice = VoiceProcess(settings)
        self.said: asyncio.Queue[tuple[int, bool]] = asyncio.Queue()
        self.heard: asyncio.Queue[tuple[int, Verdict]] = asyncio.Queue()
        self.troubles: list[str] = []
        self.ended = asyncio.Event()
        self.voice.on_said = lambda *entry: self.said.put_nowait(entry)
        self.voice.on_heard = self._hear
        self.voice.on_trouble = self.troubles.append
        self.voice.on_input_ended = self.ended.set

    def _hear(
        self, window: int, _began: float, _ended: float, _p: tuple[Proposal, ...], verdict: Verdict
    ) -> None:
        self.heard.put_nowait((window, verdict))

    async def next_said(self) -> tuple[int, bool]:
        return await asyncio.wait_for(self.said.get(), 20)


def settings(tmp_path: Path, **more: object) -> VoiceSettings:
    plain: dict[str, object] = {
        "speak": "none",
        "listen": "none",
        "pace": 0.0,
        "cache": str(tmp_path / "cache"),
    }
    return VoiceSettings(**{**plain, **more})  # type: ignore[arg-type]


def no_sound(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """As on a machine without a sound card or a sound server."""
    monkeypatch.setenv("PULSE_SERVER", f"unix:{tmp_path}/nobody")
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    monkeypatch.setenv("ALSA_CONFIG_PATH", os.devnull)


def test_settings_and_windows_come_through_the_pipe_unchanged() -> None:
    told = VoiceSettings(
        speak="wav:/somewhere",
        buttons=(("talk", 0), ("done", 3)),
        patterns=("auto rich",),
        style=VoiceStyle("icao", synonyms={"set": ("is set",)}, phrases={"resuming": "x"}),
    )
    assert VoiceSettings.from_json(told.to_json()) == told
    listen = Listen(3, LISTEN.candidates, NumberWanted(Form("speed", 0, "kt"), 60, 200, "rotate"))
    assert listen_from_json(listen_to_json(listen)) == listen


@pytest.mark.parametrize("wrong", [{"speak": "radio"}, {"speak": "wav:"}, {"listen": "ears"}])
def test_an_unknown_way_to_speak_or_listen_is_refused(wrong: dict[str, str]) -> None:
    with pytest.raises(RunnerError, match="right would be") as caught:
        VoiceSettings(**wrong)  # type: ignore[arg-type]
    assert caught.value.status == WRONG_INPUT


async def test_without_speech_every_utterance_is_done_at_once(tmp_path: Path) -> None:
    crew = Crew(settings(tmp_path))
    await crew.voice.start()
    for utterance in (1, 2):
        crew.voice.say(utterance, "Blowers?")
    assert [await crew.next_said(), await crew.next_said()] == [(1, True), (2, True)]
    assert (await crew.voice.wait_ready())["hears"] is False
    await crew.voice.stop()


async def test_speech_is_written_to_files_in_the_order_asked(tmp_path: Path) -> None:
    crew = Crew(settings(tmp_path, speak=f"wav:{tmp_path / 'spoken'}"))
    await crew.voice.start()
    texts = ("Flaps?", "Before take-off list complete, flaps and trim set", "Gear?")
    for utterance, text in enumerate(texts):
        crew.voice.say(utterance, text)
    said = [await crew.next_said() for _ in texts]
    if crew.troubles:
        pytest.skip(f"no synthesiser here: {crew.troubles[0]}")
    assert said == [(0, True), (1, True), (2, True)]
    lengths = []
    for file in sorted((tmp_path / "spoken").iterdir()):
        with wave.open(str(file)) as written:
            lengths.append(written.getnframes() / RATE)
    assert len(lengths) == 3
    assert lengths[1] > 2 * max(lengths[0], lengths[2])
    await crew.voice.stop()


async def test_answers_come_from_a_sound_file_one_a_window(tmp_path: Path) -> None:
    if not voices():
        pytest.skip("neither flite nor festival has a voice here")
    file = tmp_path / "answers.wav"
    silence = bytes(16_000 * 2)
    with wave.open(str(file), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(16_000)
        for text in ("low blower", "high blower"):
            out.writeframes(silence)
            out.writeframes(read_wav(speak_to_file(voices()[0], text, tmp_path), 16_000))
    crew = Crew(settings(tmp_path, listen=f"wav:{file}"))
    await crew.voice.start()
    crew.voice.listen(LISTEN)
    window, verdict = await asyncio.wait_for(crew.heard.get(), 20)
    assert (window, verdict.decision, verdict.candidate) == (1, "accept", "answer")
    crew.voice.listen(Listen(2, LISTEN.candidates))
    window, verdict = await asyncio.wait_for(crew.heard.get(), 20)
    assert (window, verdict.decision, verdict.candidate) == (2, "accept", "wrong:0")
    crew.voice.listen(Listen(3, LISTEN.candidates))
    await asyncio.wait_for(crew.ended.wait(), 20)
    assert crew.heard.empty() and crew.troubles == []
    await crew.voice.stop()


async def test_a_sound_file_that_is_not_there_is_wrong_input(tmp_path: Path) -> None:
    crew = Crew(settings(tmp_path, listen=f"wav:{tmp_path / 'gone.wav'}"))
    await crew.voice.start()
    with pytest.raises(RunnerError, match=r"gone\.wav") as caught:
        await crew.voice.wait_ready()
    assert caught.value.status == WRONG_INPUT
    await crew.voice.stop()


async def test_without_any_device_each_lack_is_told_once_and_the_run_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    no_sound(monkeypatch, tmp_path)
    crew = Crew(settings(tmp_path, speak="speaker", listen="mic"))
    await crew.voice.start()
    capabilities = await crew.voice.wait_ready()
    if capabilities["speaks"] or capabilities["hears"]:
        pytest.skip("this machine's sound cannot be hidden from a test")
    crew.voice.say(1, "Blowers?")
    crew.voice.say(2, "Blowers?")
    assert [await crew.next_said(), await crew.next_said()] == [(1, False), (2, False)]
    assert len(crew.troubles) == 2
    assert all("\n" not in trouble for trouble in crew.troubles)
    await crew.voice.stop()


@pytest.mark.parametrize("asked", [{"speaker": "brass"}, {"microphone": "carbon"}])
async def test_a_device_asked_for_by_name_that_is_not_there_ends_with_status_3(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, asked: dict[str, str]
) -> None:
    no_sound(monkeypatch, tmp_path)
    kinds = {"speak": "speaker"} if "speaker" in asked else {"listen": "mic"}
    crew = Crew(settings(tmp_path, **kinds, **asked))
    await crew.voice.start()
    with pytest.raises(RunnerError, match="there is") as caught:
        await crew.voice.wait_ready()
    assert caught.value.status == NO_DEVICE
    assert crew.troubles == []
    await crew.voice.stop()


async def test_a_voice_process_that_dies_is_started_again_once(tmp_path: Path) -> None:
    crew = Crew(settings(tmp_path, speak=f"wav:{tmp_path / 'spoken'}", pace=1.0))
    await crew.voice.start()
    await crew.voice.wait_ready()
    crew.voice.say(1, "this is a long text that is not over before the process is")
    first = crew.voice.pid
    assert first is not None
    os.kill(first, signal.SIGKILL)
    assert await crew.next_said() == (1, False)
    while crew.voice.pid in (None, first):
        await asyncio.sleep(0.02)
    second = crew.voice.pid
    assert second is not None
    crew.voice.say(2, "")
    assert await crew.next_said() == (2, True)
    os.kill(second, signal.SIGKILL)
    while len(crew.troubles) < 2:
        await asyncio.sleep(0.02)
    crew.voice.say(3, "Blowers?")
    assert await crew.next_said() == (3, False)
    assert "starting it again" in crew.troubles[0] and "keys" in crew.troubles[1]
    await crew.voice.stop()


def test_the_process_ends_when_nobody_speaks_to_it_any_more(tmp_path: Path) -> None:
    start = settings(tmp_path)
    from runner.voice.messages import to_line

    done = subprocess.run(
        [sys.executable, "-m", "runner.voice.process"],
        input=to_line({"do": "start", "settings": start.to_json()}),
        capture_output=True,
        timeout=20,
        check=True,
    )
    assert all(line.startswith(b'{"is":') for line in done.stdout.splitlines())


async def test_a_failure_in_mid_run_is_told_and_nothing_is_raised() -> None:
    voice = VoiceProcess(VoiceSettings(speak="none", listen="none"))
    troubles: list[str] = []
    voice.on_trouble = troubles.append
    voice._take({"is": "ready", "capabilities": {"hears": True}})
    voice._take({"is": "failed", "text": "no microphone has 'desk' in its name", "status": 3})
    assert troubles == ["no microphone has 'desk' in its name: going on with keys"]
    assert await voice.wait_ready(0.1) == {"hears": True}
