"""The order of what is said, the sounds themselves, and speaking into files."""

from __future__ import annotations

import queue
import time
import wave
from pathlib import Path

import pytest

from runner.voice.player import FilePlayer, Queue, Sound
from runner.voice.waves import RATE, mix, read_wav, seconds, tone, trim, write_wav


def sound(utterance: int, urgency: str = "routine", size: int = 8) -> Sound:
    return Sound(utterance, bytes([utterance]) * size, urgency)  # type: ignore[arg-type]


def drain(queue: Queue) -> list[int | None]:
    """The utterances in the order in which they end."""
    ended: list[int | None] = []
    while queue.current or queue.waiting:
        ended += [done.utterance for done in queue.take(3)[2]]
    return ended


def test_routine_speech_keeps_its_order_and_prompts_and_urgent_calls_overtake_it() -> None:
    waiting = Queue()
    for number, urgency in enumerate(("routine", "routine", "prompt", "urgent", "urgent")):
        waiting.add(sound(number, urgency))
    assert drain(waiting) == [3, 4, 2, 0, 1]


def test_an_urgent_call_interrupts_a_challenge_which_is_then_said_from_its_beginning() -> None:
    playing = Queue()
    playing.add(sound(1))
    assert playing.take(4)[0] == b"\x01" * 4
    playing.add(sound(2, "urgent"))
    assert playing.take(16)[0] == b"\x02" * 8 + b"\x01" * 8


def test_an_urgent_call_does_not_interrupt_another() -> None:
    playing = Queue()
    playing.add(sound(1, "urgent"))
    playing.take(4)
    playing.add(sound(2, "urgent"))
    assert drain(playing) == [1, 2]


def test_what_is_cut_is_told_what_played_and_what_waited() -> None:
    playing = Queue()
    playing.add(sound(1))
    playing.add(sound(2))
    playing.take(4)
    assert [gone.utterance for gone in playing.clear()] == [1, 2]
    assert playing.take(4) == (b"", [], [])


@pytest.mark.parametrize("name", ["right", "wrong", "attention", "complete"])
def test_tones_are_short_audible_and_without_a_click(name: str) -> None:
    made = memoryview(tone(name)).cast("h")
    assert 0.05 <= len(made) / RATE <= 0.4
    assert 4_000 < max(made) < 16_000
    assert abs(made[0]) < 200 and abs(made[-1]) < 800


def test_mixing_keeps_the_length_of_the_longer_and_the_range() -> None:
    loud = (32_000).to_bytes(2, "little", signed=True) * 4
    mixed = memoryview(mix(loud, loud[:4])).cast("h").tolist()
    assert mixed == [32_767, 32_767, 32_000, 32_000]


def test_a_wav_file_of_any_rate_is_played_at_the_mixers(tmp_path: Path) -> None:
    file = tmp_path / "speech.wav"
    write_wav(file, tone("attention")[::1], rate=22_050)
    length = len(tone("attention")) / 2 / 22_050
    assert seconds(read_wav(file)) == pytest.approx(length, abs=0.01)


def test_a_file_that_is_no_wav_is_refused_by_name(tmp_path: Path) -> None:
    file = tmp_path / "text.wav"
    file.write_text("not a sound")
    with pytest.raises(ValueError, match=r"text\.wav"):
        read_wav(file)


def test_the_synthesisers_pauses_are_cut_off_and_the_speech_is_kept() -> None:
    silence = bytes(RATE)
    speech = tone("wrong")
    kept = trim(silence + speech + silence)
    assert speech[200:-200] in kept
    assert seconds(kept) < seconds(speech) + 0.1
    assert trim(silence) == silence


def test_speech_into_files_lasts_its_real_length_or_none(tmp_path: Path) -> None:
    for pace, least, most in ((1.0, 0.15, 1.0), (0.0, 0.0, 0.15)):
        ends: queue.Queue[tuple[int | None, bool]] = queue.Queue()
        folder = tmp_path / str(pace)
        player = FilePlayer(
            folder, pace, lambda *_: None, lambda u, done, _, ends=ends: ends.put((u, done))
        )
        began = time.monotonic()
        player.play(Sound(1, tone("wrong")))
        assert ends.get(timeout=3) == (1, True)
        assert least <= time.monotonic() - began <= most
        player.close()
        with wave.open(str(folder / "0001.wav")) as written:
            assert written.getnframes() == len(tone("wrong")) // 2


def test_speech_into_files_can_be_cut(tmp_path: Path) -> None:
    ends: queue.Queue[tuple[int | None, bool]] = queue.Queue()
    player = FilePlayer(tmp_path, 1.0, lambda *_: None, lambda u, done, _: ends.put((u, done)))
    player.play(Sound(1, bytes(RATE * 2 * 5)))
    player.play(Sound(2, bytes(RATE * 2 * 5)))
    time.sleep(0.1)
    player.cut()
    assert [ends.get(timeout=1), ends.get(timeout=1)] == [(1, False), (2, False)]
    player.close()
