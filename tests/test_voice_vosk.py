"""Vosk with a real model: the Korean one that a package carries, spoken to by espeak-ng's voice.

The voice is a poor speaker of Korean. The phrases here are those that the model understands
from it, of several syllables each; who speaks Korean will find others.
"""

from __future__ import annotations

import queue
import random
import struct
import unicodedata
from array import array
from collections import Counter
from pathlib import Path

import pytest

from model_server import layout, real_model
from runner.cli import main
from runner.engine.effects import Candidate, Listen
from runner.phrasing.normal import normalise
from runner.phrasing.pattern import parse
from runner.voice.ears import Ears
from runner.voice.grammar import DECOYS
from runner.voice.judge import judge
from runner.voice.recogniser import RATE, Recogniser, choose
from runner.voice.speech import SpeechStore
from runner.voice.utterance import FRAME_BYTES, FRAME_SECONDS, Gate
from runner.voice.vocabulary import DECOYS_WANTED, decoys_from, words_of_model
from runner.voice.voice_activity import voice_detector
from runner.voice.vosk_model import VoskRecogniser, takes_grammar
from runner.voice.waves import read_wav

RATES = (120, 140, 165)
"""Words a minute."""

ITEMS = (
    ("열려 있습니다", "닫혀 있습니다"),
    ("(이륙)? 준비 완료", "아이스크림"),
    ("라디오 / 카메라", "바나나"),
    ("할아버지", "어머니"),
)
CONTROLS = (("control:stand_by", "잠시만요 / 잠깐만요"), ("control:say_again", "안녕하세요"))

OTHERS = (
    "비행기", "자동차", "감사합니다", "대한민국", "도서관", "운동장", "지하철", "고등학교",
    "대통령", "체크리스트", "오늘 날씨가 좋습니다", "점심을 먹었습니다", "컴퓨터", "선생님",
)  # fmt: skip
"""What is said near the microphone and is no answer."""


def window(number: int, right: str, wrong: str) -> Listen:
    return Listen(
        number,
        (
            Candidate("answer", "answer", right),
            Candidate("wrong:0", "competitor", wrong),
            *(Candidate(name, "control", pattern) for name, pattern in CONTROLS),
        ),
    )


WINDOWS = tuple(window(number, *item) for number, item in enumerate(ITEMS, 1))


def said_in(listen: Listen) -> dict[str, str]:
    """The candidate of each text that espeak-ng's voice is understood with."""
    return {
        text: candidate.id
        for candidate in listen.candidates
        for text in parse(candidate.pattern).texts()
        if text != "잠깐만요"
    }


@pytest.fixture(scope="module")
def recogniser() -> Recogniser:
    pytest.importorskip("vosk")
    (made,) = choose("vosk", real_model(), ())
    return made


class Speaker:
    """espeak-ng's Korean voice."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._noise = random.Random(7)

    def say(self, text: str, rate: int) -> bytes:
        """The speech at ``RATE``, with moments of low noise around it."""
        made: queue.Queue[bytes | None] = queue.Queue()
        store = SpeechStore("ko", rate, self._folder, lambda _, sound, __: made.put(sound))
        try:
            store.want(text)
            sound = made.get(timeout=30)
        except queue.Empty:
            sound = None
        finally:
            store.close()
        if not sound:
            pytest.skip("the synthesiser has no Korean voice here")
        return self._quiet() + read_wav(store.file_of(text), RATE) + self._quiet()

    def _quiet(self) -> bytes:
        return array("h", (self._noise.randint(-3, 3) for _ in range(RATE // 2))).tobytes()


@pytest.fixture(scope="module")
def speaker(tmp_path_factory: pytest.TempPathFactory) -> Speaker:
    return Speaker(tmp_path_factory.mktemp("korean-speech"))


def proposed(recogniser: Recogniser, listen: Listen, sound: bytes) -> tuple[str | None, str]:
    """The candidate that is proposed first and accepted by the judge, and what was heard."""
    recogniser.prepare(listen)
    recogniser.begin()
    for at in range(0, len(sound), FRAME_BYTES):
        recogniser.feed(sound[at : at + FRAME_BYTES])
    proposals = recogniser.propose()
    verdict = judge(proposals, listen)
    accepted = verdict.candidate if verdict.decision == "accept" else None
    return accepted, proposals[0].text if proposals else ""


def test_what_is_said_in_korean_is_accepted_as_what_it_is(
    recogniser: Recogniser, speaker: Speaker
) -> None:
    found: Counter[str] = Counter()
    for listen in WINDOWS:
        for text, candidate in said_in(listen).items():
            for rate in RATES:
                accepted, heard = proposed(recogniser, listen, speaker.say(text, rate))
                what = "right" if accepted == candidate else "not heard"
                if accepted not in (candidate, None):
                    what = "wrong"
                    print(f"{text} at {rate}: heard {heard}")
                found[what] += 1
    print(dict(found))
    assert not found["wrong"]
    assert found["right"] >= 0.85 * found.total()


def test_what_is_no_answer_is_rejected(recogniser: Recogniser, speaker: Speaker) -> None:
    found: Counter[str] = Counter()
    answers: list[str] = []
    texts = {text for listen in WINDOWS for text in said_in(listen)}
    for listen in WINDOWS:
        own = [parse(candidate.pattern) for candidate in listen.candidates]
        for text in sorted({*OTHERS, *texts}):
            if any(pattern.matches(text) for pattern in own):
                continue
            sound = speaker.say(text, RATES[1])
            accepted, heard = proposed(recogniser, listen, sound)
            found["rejected" if accepted is None else "taken"] += 1
            if accepted is not None:
                answers.append(f"{text} for {heard}")
    print(dict(found), answers)
    assert found["taken"] <= 0.05 * found.total()


@pytest.mark.parametrize(("text", "candidate"), [("할아버지", "answer"), ("어머니", "wrong:0")])
def test_an_answer_goes_from_the_gate_to_its_verdict(
    recogniser: Recogniser, speaker: Speaker, text: str, candidate: str
) -> None:
    ears = Ears((recogniser,), Gate(voice_detector()))
    ears.open(WINDOWS[3])
    sound = speaker.say(text, 140) + bytes(2 * RATE * 2)
    outcomes = []
    for number in range(len(sound) // FRAME_BYTES):
        frame = sound[number * FRAME_BYTES : (number + 1) * FRAME_BYTES]
        outcome = ears.take(frame, (number + 1) * FRAME_SECONDS)
        if outcome is not None:
            outcomes.append(outcome)
    (only,) = outcomes
    assert (only.verdict.decision, only.verdict.candidate) == ("accept", candidate)
    assert only.verdict.text == text


def test_silence_is_nothing(recogniser: Recogniser) -> None:
    recogniser.prepare(WINDOWS[0])
    recogniser.begin()
    recogniser.feed(bytes(2 * RATE))
    assert recogniser.propose() == ()


def test_a_phrase_with_a_word_that_the_model_lacks_is_not_cut_down_to_the_rest(
    recogniser: Recogniser, speaker: Speaker
) -> None:
    """Of "qqq 준비 완료" Vosk by itself makes "준비 완료", which may be its opposite."""
    listen = Listen(9, (Candidate("answer", "answer", "qqq 준비 완료"),))
    accepted, heard = proposed(recogniser, listen, speaker.say("준비 완료", 140))
    assert accepted is None
    assert "qqq" not in heard
    limits = recogniser.capabilities.limits
    assert any("does not know: " in limit and "qqq" in limit for limit in limits)


def test_decoys_are_words_of_the_models_own_language() -> None:
    words = words_of_model(real_model())
    assert len(words) > 100_000 and "준비" in words
    decoys = decoys_from(words)
    assert len(decoys) == len(set(decoys)) == DECOYS_WANTED
    hangul = [word for word in decoys if all("가" <= letter <= "힣" for letter in word)]
    assert len(hangul) > 0.9 * len(decoys)
    assert decoys == decoys_from(words)


@pytest.mark.parametrize("content", [b"", b"no graph at all", struct.pack("<ii", 2125659606, 9**9)])
def test_a_graph_that_cannot_be_read_gives_no_words(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "Gr.fst").write_bytes(content)
    assert words_of_model(tmp_path) == ()


def test_a_list_of_words_is_read_where_there_is_one(tmp_path: Path) -> None:
    (tmp_path / "graph").mkdir()
    (tmp_path / "graph" / "words.txt").write_text("<eps> 0\nhaus 1\nmaus 2\n", encoding="utf-8")
    assert words_of_model(tmp_path) == ("<eps>", "haus", "maus")


def test_a_model_with_a_fixed_graph_says_so(recogniser: Recogniser, tmp_path: Path) -> None:
    assert recogniser.capabilities.closed
    assert takes_grammar(real_model())
    (tmp_path / "graph").mkdir()
    (tmp_path / "graph" / "HCLG.fst").touch()
    assert not takes_grammar(tmp_path)
    fixed = VoskRecogniser(real_model())
    # No package carries a model of this kind; without a grammar this one is used in the same way.
    fixed._closed = False
    fixed.prepare(WINDOWS[0])
    capabilities = fixed.capabilities
    assert not capabilities.closed
    assert capabilities.limits == (
        "Vosk: the model model has a fixed graph and cannot be told what to listen for",
    )


def test_a_whole_graph_beside_the_parts_of_one_is_what_vosk_takes(tmp_path: Path) -> None:
    for folder in (tmp_path / "newer" / "graph", tmp_path / "older"):
        folder.mkdir(parents=True)
        for name in ("Gr.fst", "HCLr.fst"):
            assert not takes_grammar(tmp_path / folder.relative_to(tmp_path).parts[0])
            (folder / name).touch()
        assert takes_grammar(tmp_path / folder.relative_to(tmp_path).parts[0])
        (folder / "HCLG.fst").touch()
        assert not takes_grammar(tmp_path / folder.relative_to(tmp_path).parts[0])


class Vocabulary:
    """A model of which nothing is asked but its words."""

    def __init__(self, *words: str) -> None:
        self._words = words

    def vosk_model_find_word(self, word: str) -> int:
        return self._words.index(word) if word in self._words else -1


def knowing(folder: Path, *words: str) -> VoskRecogniser:
    """A recogniser whose model knows these words; no package carries an English one."""
    made = VoskRecogniser.__new__(VoskRecogniser)
    made._model, made._folder, made._closed, made._missing = Vocabulary(*words), folder, True, {}
    made._decoys = made._choose_decoys()
    return made


def test_an_english_model_is_given_the_shipped_decoys_but_for_those_like_an_answer(
    tmp_path: Path,
) -> None:
    shipped = [word for decoys in DECOYS for word in decoys]
    english = knowing(tmp_path, "[unk]", "doors", "off", *shipped)
    phrases = english._phrases(window(1, "doors off", "off"))
    assert {"[unk]", "doors off", "doors", "off"} <= set(phrases)
    assert set(shipped) - set(phrases) == {"door"}


def test_words_that_an_english_model_lacks_are_named_and_their_phrases_left_out(
    tmp_path: Path,
) -> None:
    english = knowing(tmp_path, "blower", "low", "high", "not")
    phrases = english._phrases(window(1, "low blower", "not feathered"))
    assert "low blower" in phrases and "not feathered" not in phrases
    assert {"low", "blower", "not"} <= set(phrases)
    (limit,) = english.capabilities.limits
    assert limit.startswith(f"Vosk: the model {tmp_path.name} does not know: ")
    assert "feathered" in limit


def test_the_model_named_by_the_environment_is_listed_and_used(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    fixed = tmp_path / "fixed"
    for name, content in {**layout(leaving_out="graph/Gr.fst"), "graph/HCLG.fst": b""}.items():
        (fixed / name).parent.mkdir(parents=True, exist_ok=True)
        (fixed / name).write_bytes(content)
    for folder, says in (
        (real_model(), "listens for the window's answers alone, used."),
        (fixed, "has a fixed graph and cannot be told what to listen for, used."),
        (tmp_path / "none", "does not work: no am/final.mdl in that folder (RUNNER_VOSK_MODEL)"),
    ):
        monkeypatch.setenv("RUNNER_VOSK_MODEL", str(folder))
        assert main(["voice", "list"]) == 0
        assert f"  vosk: model {folder}: {says}\n" in capsys.readouterr().out


def test_words_and_patterns_in_korean_letters_are_as_good_as_others() -> None:
    for text in ("착륙등, 켜짐.", unicodedata.normalize("NFD", "착륙등 켜짐")):
        assert normalise(text) == "착륙등 켜짐"
    pattern = parse("(착륙등)? 켜짐 / 켜졌습니다")
    assert pattern.texts() == ("켜짐", "착륙등 켜짐", "켜졌습니다")
    assert pattern.matches(unicodedata.normalize("NFD", "착륙등 켜짐"))
    assert not pattern.matches("착륙등 꺼짐")
    assert pattern.words == {"착륙등", "켜짐", "켜졌습니다"}
