"""A list flown in Korean by voice alone: a real Vosk model, real sound devices, espeak-ng's voice.

At every item something else is said first: the opposite, another item's answer, or what is
no answer at all. The voice is a poor speaker of Korean, so a right answer may be said again,
at another speed.
"""

from __future__ import annotations

import json
import queue
import time
from pathlib import Path

import pytest

from model_server import real_model
from runner.voice.mouth import ECHO_SECONDS
from runner.voice.speech import SpeechStore
from sound import SoundSystem
from voice_crew import Decision, VoiceFlight, table

pytestmark = [pytest.mark.sound, pytest.mark.slow]

RATES = (120, 165, 140)
"""Words a minute of the first try and of those after it."""

VOICE = """\
runner: 1
voice: Korean, for tests
language: ko
synthesiser voice: ko
rate: 140
control:
  say_again: 안녕하세요
  stand_by: 잠시만요
phrases:
  list_begins: <list> 점검표
  list_complete: <list> 완료
  say_again: 다시 말씀해 주세요
"""

AIRCRAFT = """\
runner: 1
aircraft: Plover One
about: Invented, for simulation and training only, not for flight.
roles: captain
engines: 1
"""

PROCEDURES = """\
runner: 1
procedures: Plover One, Korean
about: Invented, for simulation and training only.
aircraft: plover-aircraft.yaml
phases:
  - phase: ground
    name: 지상
    lists:
      - list: before-takeoff
        title: 이륙 전
        kind: challenge and response
        items:
          - challenge: 연료
            id: fuel
            response: 왼쪽 탱크
            not: 오른쪽 탱크
          - challenge: 플랩
            id: flaps
            response: 이십 도
            not: 삼십 도
          - challenge: 이륙
            id: takeoff
            response: (이륙)? 준비 완료
            not: 아직 아닙니다
          - challenge: 통신
            id: radio
            response: 라디오
            not: 카메라
"""

TURNS = (
    ("연료", "왼쪽 탱크", ("opposite", "오른쪽 탱크")),
    ("플랩", "이십 도", ("opposite", "삼십 도")),
    ("이륙", "이륙 준비 완료", ("no answer", "오늘 날씨가 좋습니다")),
    ("통신", "라디오", ("another item's answer", "왼쪽 탱크")),
)
"""The challenge, its answer, and what is said before it."""


def recording(text: str, rate: int, folder: Path) -> Path:
    """A WAV file of espeak-ng's Korean voice saying a text."""
    made: queue.Queue[bytes | None] = queue.Queue()
    store = SpeechStore("ko", rate, folder, lambda _, sound, __: made.put(sound))
    try:
        store.want(text)
        sound = made.get(timeout=30)
    except queue.Empty:
        sound = None
    finally:
        store.close()
    if not sound:
        pytest.skip("the synthesiser has no Korean voice here")
    return store.file_of(text)


def wait_until_silent(flight: VoiceFlight, seconds: float = 20.0) -> None:
    """Wait until Runner has said all it had to say: what it says itself it does not accept."""
    end = time.monotonic() + seconds
    while True:
        marks = [json.loads(line) for line in flight.trace.read_text().splitlines()]
        said = {mark["utterance"] for mark in marks if mark["what"] == "said"}
        if said == {mark["utterance"] for mark in marks if mark["what"] == "ended"}:
            break
        assert time.monotonic() < end, "Runner never stops speaking"
        time.sleep(0.05)
    time.sleep(ECHO_SECONDS)


def test_a_korean_list_is_flown_by_voice_and_nothing_wrong_passes(
    sound: SoundSystem, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("RUNNER_VOSK_MODEL", str(real_model()))
    for name, text in (
        ("korean-voice.yaml", VOICE),
        ("plover-aircraft.yaml", AIRCRAFT),
        ("plover.yaml", PROCEDURES),
    ):
        (tmp_path / name).write_text(text, encoding="utf-8")
    for _, right, (_, wrong) in TURNS:
        for text in (right, wrong):
            for rate in RATES:
                recording(text, rate, tmp_path / "speech")
    flight = VoiceFlight(
        sound,
        tmp_path / "run",
        *(str(tmp_path / "plover.yaml"), "--voice", str(tmp_path / "korean-voice.yaml")),
        *("--recogniser", "vosk"),
    )
    decisions: list[Decision] = []
    try:
        flight.wait_until_heard(30)
        flight.wait_for("Runner: 이륙 전 점검표", 30)
        for challenge, right, (kind, wrong) in TURNS:
            flight.wait_for(f"Runner: {challenge}", 30)
            file = recording(wrong, RATES[0], tmp_path / "speech")
            wait_until_silent(flight)
            decisions.append(flight.play(challenge, kind, file, wrong))
            for rate in RATES:
                wait_until_silent(flight)
                file = recording(right, rate, tmp_path / "speech")
                decisions.append(flight.play(challenge, "right answer", file, right))
                if decisions[-1].decided == "accepted":
                    break
        flight.wait_for("Runner: 이륙 전 완료")
        status = flight.finish()
    finally:
        flight.stop()
        print("\n" + table(decisions))
        for d in decisions:
            print(f"{d.challenge} {d.kind:<22} {d.said!r}: {d.decided} {d.heard}")
    wrongly = [d for d in decisions if d.kind != "right answer"]
    assert not [d for d in wrongly if d.decided in ("accepted", "acted")]
    assert "named" in [d.decided for d in decisions if d.kind == "opposite"]
    accepted = [d.challenge for d in decisions if d.decided == "accepted"]
    assert accepted == [challenge for challenge, _, _ in TURNS]
    assert status == 0
