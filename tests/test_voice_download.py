"""Downloads against a real server: ranges or none, cut off, changed meanwhile, refused."""

from __future__ import annotations

import random
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from model_server import Served, serving
from runner.errors import RunnerError
from runner.voice.download import TRIES, Part, download

BODY = random.Random(4).randbytes(900_000)
OTHER = random.Random(5).randbytes(700_000)


@pytest.fixture(autouse=True)
def no_proxy(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("no_proxy", "127.0.0.1")


@pytest.fixture
def served() -> Iterator[Served]:
    with serving(Served(BODY)) as server:
        yield server


def fetch(served: Served, folder: Path) -> bytes:
    return download(served.url, folder, lambda *_: None).file.read_bytes()


def test_a_download_that_is_cut_off_goes_on_where_it_stopped(
    served: Served, tmp_path: Path
) -> None:
    served.cut = [300_000, 250_000, None]
    assert fetch(served, tmp_path) == BODY
    ranges = [asked.get("range") for asked in served.asked]
    assert ranges == [None, "bytes=300000-", "bytes=550000-"]
    assert [asked.get("if-range") for asked in served.asked[1:]] == ['"first"', '"first"']
    assert sum(served.sent) == len(BODY)


def test_progress_counts_what_was_there_before(served: Served, tmp_path: Path) -> None:
    served.cut = [300_000, None]
    told: list[tuple[str, int, int]] = []
    download(served.url, tmp_path, lambda *all_of: told.append(all_of))
    assert [done for _, done, _ in told] == sorted(done for _, done, _ in told)
    assert {whole for *_, whole in told} == {len(BODY)}
    assert told[-1] == ("Downloading", len(BODY), len(BODY))


def test_a_server_without_ranges_sends_it_from_the_beginning(
    served: Served, tmp_path: Path
) -> None:
    served.ranges = False
    served.cut = [300_000, None]
    assert fetch(served, tmp_path) == BODY
    assert served.sent == [300_000, len(BODY)]


def test_a_file_that_has_changed_meanwhile_is_not_stitched_together(
    served: Served, tmp_path: Path
) -> None:
    served.cut = [300_000] + [0] * TRIES
    with pytest.raises(RunnerError, match="goes on from there"):
        fetch(served, tmp_path)
    served.body, served.tag, served.cut = OTHER, '"second"', []
    assert fetch(served, tmp_path) == OTHER


@pytest.mark.parametrize(
    ("tag", "date", "goes_on"),
    [
        ('W/"weak"', "", False),
        ('W/"weak"', "Tue, 24 Nov 2026 08:00:00 GMT", True),
        ("", "Tue, 24 Nov 2026 08:00:00 GMT", True),
        ("", "", False),
    ],
)
def test_only_a_strong_tag_or_a_date_lets_a_part_be_continued(
    served: Served, tmp_path: Path, tag: str, date: str, goes_on: bool
) -> None:
    """RFC 9110, HTTP Semantics, 2022, section 13.1.5: no weak entity tag in If-Range."""
    served.tag, served.date, served.cut = tag, date, [300_000, None]
    assert fetch(served, tmp_path) == BODY
    assert served.asked[1].get("if-range") == (date if goes_on else None)
    assert ("range" in served.asked[1]) is goes_on


def test_a_part_that_is_whole_already_is_not_fetched_again(served: Served, tmp_path: Path) -> None:
    fetch(served, tmp_path)
    assert fetch(served, tmp_path) == BODY
    assert served.sent == [len(BODY)]


def test_a_part_longer_than_the_file_begins_again(served: Served, tmp_path: Path) -> None:
    fetch(served, tmp_path)
    with Part.of(served.url, tmp_path).file.open("ab") as part:
        part.write(b"more")
    assert fetch(served, tmp_path) == BODY


def test_another_piece_than_was_asked_for_is_thrown_away(served: Served, tmp_path: Path) -> None:
    served.wrong_range = True
    served.cut = [300_000, None, None]
    assert fetch(served, tmp_path) == BODY
    assert "range" not in served.asked[2]


def test_the_part_stays_when_the_server_cuts_off_again_and_again(
    served: Served, tmp_path: Path
) -> None:
    served.cut = [300_000] + [0] * TRIES
    with pytest.raises(RunnerError) as caught:
        fetch(served, tmp_path)
    assert str(caught.value) == (
        f"{served.url}: the connection ended early after 0.3 MB; the same command goes on "
        "from there"
    )
    assert Part.of(served.url, tmp_path).size == 300_000


def test_a_file_shorter_than_the_server_says_is_never_whole(served: Served, tmp_path: Path) -> None:
    served.declared, served.ranges = len(BODY) + 1000, False
    with pytest.raises(RunnerError, match="ended early"):
        fetch(served, tmp_path)


@pytest.mark.parametrize("cut", [None, 300_000])
def test_a_length_that_is_not_told_is_no_obstacle(
    served: Served, tmp_path: Path, cut: int | None
) -> None:
    served.length, served.cut = False, [cut, None]
    assert fetch(served, tmp_path) == BODY


@pytest.mark.parametrize(("status", "words"), [(404, "404 Not Found"), (503, "503 Service")])
def test_what_the_server_answers_is_told(
    served: Served, tmp_path: Path, status: int, words: str
) -> None:
    served.status = status
    with pytest.raises(RunnerError, match=words):
        fetch(served, tmp_path)
    assert len(served.asked) == 1


def test_a_server_that_is_not_there_is_told_at_once(tmp_path: Path) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        url = f"http://127.0.0.1:{free.getsockname()[1]}/model.zip"
        with pytest.raises(RunnerError, match="cannot be reached: Connection refused"):
            download(url, tmp_path, lambda *_: None)


@pytest.mark.parametrize("url", ["ftp://127.0.0.1/a.zip", "file:///etc/passwd", "http:///a.zip"])
def test_only_http_is_fetched(url: str, tmp_path: Path) -> None:
    with pytest.raises(RunnerError, match="only http:// and https://"):
        download(url, tmp_path, lambda *_: None)


def test_more_than_a_model_can_be_is_refused_before_it_is_fetched(
    served: Served, tmp_path: Path
) -> None:
    served.declared = 15 * 1024**4
    with pytest.raises(RunnerError, match="too much for a model"):
        fetch(served, tmp_path)
    assert Part.of(served.url, tmp_path).size == 0
