"""``runner voice install``: a whole model takes its place, anything else leaves the old one."""

from __future__ import annotations

import fcntl
import hashlib
import os
import pty
import shutil
import signal
import stat
import subprocess
import sys
import threading
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from model_server import PARTS, Served, layout, make_zip, real_model, serving
from runner.cli import main
from runner.voice.download import Part
from runner.voice.exchange import exchange, recover
from runner.voice.vosk_model import installed_models, models_home

COMMAND = [sys.executable, "-m", "runner", "voice", "install"]

OLD = {"am/final.mdl": b"the old model", "README": b"old"}


@pytest.fixture
def home(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """A data folder of the test's own, in which a model called ``english`` is installed."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("no_proxy", "127.0.0.1")
    monkeypatch.delenv("RUNNER_VOSK_MODEL", raising=False)
    folder = models_home()
    for name, content in OLD.items():
        file = folder / "english" / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(content)
    return folder


@pytest.fixture(scope="session")
def korean(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The real Korean model in a zip file, in a folder ``model``."""
    model = real_model()
    file = tmp_path_factory.mktemp("korean") / "korean.zip"
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as packed:
        for path in sorted(model.rglob("*")):
            packed.write(path, Path("model") / path.relative_to(model))
    return file


@pytest.fixture(scope="session")
def korean_flat(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same model without a folder around it."""
    model = real_model()
    file = tmp_path_factory.mktemp("flat") / "korean-flat.zip"
    with zipfile.ZipFile(file, "w", zipfile.ZIP_STORED) as packed:
        for path in sorted(model.rglob("*")):
            packed.write(path, path.relative_to(model))
    return file


def content(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


def refused(capsys: pytest.CaptureFixture[str], home: Path, *arguments: str) -> str:
    """The one line with which an installation is refused; the old model is still there."""
    assert main(["voice", "install", *arguments, "--name", "english"]) == 2
    said = capsys.readouterr()
    lines = [line for line in said.err.splitlines() if not line.startswith(STAGES)]
    assert len(lines) == 1 and not said.out, said.err
    assert content(home / "english") == OLD
    left = {path.name for path in home.iterdir()} - {"english", ".lock", ".downloads"}
    assert not left
    return lines[0]


STAGES = ("Downloading", "Unpacking", "Loading", "Comparing")


def is_real(folder: Path) -> bool:
    there = {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()}
    model = real_model()
    return there == {str(p.relative_to(model)) for p in model.rglob("*") if p.is_file()}


def test_a_model_one_folder_deep_takes_the_place_of_the_old_one(
    home: Path, korean: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    right = hashlib.sha256(korean.read_bytes()).hexdigest()
    assert main(["voice", "install", str(korean), "--name", "english", "--sha256", right]) == 0
    said = capsys.readouterr().out
    assert said.startswith("The model english is replaced, 264.4 MB.")
    assert is_real(home / "english")
    assert [path.name for path in home.iterdir() if path.name != ".lock"] == ["english"]
    assert main(["voice", "list"]) == 0
    listed = capsys.readouterr().out
    assert "  vosk: model english: listens for the window's answers alone, used." in listed


def test_a_model_at_the_top_of_the_zip_file_is_called_like_the_file(
    home: Path, korean_flat: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["voice", "install", str(korean_flat)]) == 0
    said = capsys.readouterr().out
    assert "The model korean-flat is installed" in said
    assert "The model english is used; this one is used after " in said
    assert is_real(home / "korean-flat")
    assert content(home / "english") == OLD


def test_a_model_from_a_server_that_cuts_off_is_whole_and_loads(home: Path, korean: Path) -> None:
    body = korean.read_bytes()
    with serving(Served(body, cut=[30_000_000, 20_000_000, None])) as served:
        assert main(["voice", "install", served.url, "--name", "english"]) == 0
    assert sum(served.sent) == len(body)
    assert is_real(home / "english")
    assert not list((home / ".downloads").iterdir())


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGKILL])
def test_a_download_interrupted_by_the_user_or_killed_goes_on_with_the_same_command(
    home: Path, korean: Path, how: signal.Signals
) -> None:
    body = korean.read_bytes()
    cut = 40_000_000
    with serving(Served(body, cut=[cut], hold=True)) as served:
        first = subprocess.Popen(
            [*COMMAND, served.url, "--name", "english"], stderr=subprocess.PIPE, text=True
        )
        assert served.holding.wait(30)
        # What has been sent is not yet what has been read.
        part = Part.of(served.url, home / ".downloads")
        for _ in range(200):
            if part.size > cut - 2_000_000:
                break
            threading.Event().wait(0.05)
        first.send_signal(how)
        _, said = first.communicate(timeout=30)
        if how == signal.SIGINT:
            assert first.returncode == 1
            assert "Stopped; the same command goes on from there. Nothing was changed." in said
            assert "Traceback" not in said
        assert content(home / "english") == OLD
        there = part.size
        served.hold = False
        subprocess.run([*COMMAND, served.url, "--name", "english"], check=True, capture_output=True)
    assert there > cut - 2_000_000
    assert served.asked[1]["range"] == f"bytes={there}-"
    assert served.sent[1] == len(body) - there
    assert is_real(home / "english")


def test_a_wrong_sha256_is_refused_and_the_download_forgotten(
    home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = make_zip(tmp_path / "new.zip", layout("new"))
    wrong, right = "0" * 64, hashlib.sha256(file.read_bytes()).hexdigest()
    line = refused(capsys, home, str(file), "--sha256", wrong)
    assert line == f"{file}: its SHA-256 is {right}, not the {wrong} that was given"
    with serving(Served(file.read_bytes())) as served:
        assert "SHA-256" in refused(capsys, home, served.url, "--sha256", wrong)
    assert not list((home / ".downloads").iterdir())


@pytest.mark.parametrize("missing", [name for name in PARTS if name != "README"])
@pytest.mark.parametrize("folder", ["", "new"])
def test_a_model_that_lacks_a_part_is_refused_by_that_name(
    home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], missing: str, folder: str
) -> None:
    file = make_zip(tmp_path / "new.zip", layout(folder, missing))
    line = refused(capsys, home, str(file))
    assert missing in line and line.startswith(f"{file}: ")


def test_files_that_only_look_like_a_model_do_not_load_and_change_nothing(
    home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pytest.importorskip("vosk")
    line = refused(capsys, home, str(make_zip(tmp_path / "new.zip", layout("new"))))
    assert "Vosk cannot load this model: " in line
    assert "conf/model.conf" in line and str(tmp_path / "data") not in line


def test_a_damaged_real_model_does_not_load_and_changes_nothing(
    home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    model = real_model()
    file = tmp_path / "damaged.zip"
    with zipfile.ZipFile(file, "w") as packed:
        for path in sorted(model.rglob("*")):
            if path.name == "final.mdl":
                packed.writestr("am/final.mdl", path.read_bytes()[:5_000_000])
            else:
                packed.write(path, path.relative_to(model))
    assert "Vosk cannot load this model: Failed to read" in refused(capsys, home, str(file))


LINK = zipfile.ZipInfo("new/am/link")
LINK.create_system = 3
LINK.external_attr = (stat.S_IFLNK | 0o777) << 16


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ({}, "no Vosk model in it"),
        ({"a.txt": b"a"}, "no Vosk model in it"),
        (layout("one/two"), "no Vosk model in it"),
        ({**layout("one"), **layout("two")}, "more than one model in it (one, two)"),
        ({**layout("new"), "../out.txt": b"a"}, "outside its folder"),
        ({**layout("new"), "new/am/../../../out.txt": b"a"}, "outside its folder"),
        ({**layout("new"), "/out.txt": b"a"}, "outside its folder"),
        ({**layout("new"), "C:out.txt": b"a"}, "outside its folder"),
        ({**layout("new"), "new\\..\\..\\out.txt": b"a"}, "outside its folder"),
        ({**layout("new"), "new/README": b"a", "new/readme": b"a"}, "is in it twice"),
        ({**layout("new"), "new/big": bytes(100_000_000)}, "are no model"),
        ({**layout("new"), **{f"new/{n}": b"" for n in range(10_001)}}, "more than 10000 files"),
    ],
)
def test_what_no_model_does_is_refused(
    home: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    parts: dict[str, bytes],
    words: str,
) -> None:
    file = make_zip(tmp_path / "new.zip", parts)
    assert words in refused(capsys, home, str(file))
    assert not list(tmp_path.rglob("out.txt"))


def test_a_link_in_the_zip_file_is_refused(
    home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = make_zip(tmp_path / "new.zip", layout("new"))
    with zipfile.ZipFile(file, "a") as packed:
        packed.writestr(LINK, "/etc/passwd")
    assert "is a link" in refused(capsys, home, str(file))


def test_an_encrypted_zip_file_is_refused(
    home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = make_zip(tmp_path / "new.zip", layout("new"))
    packed = bytearray(file.read_bytes())
    at = -1
    while (at := packed.find(b"PK\x01\x02", at + 1)) >= 0:
        packed[at + 8] |= 1
    file.write_bytes(packed)
    assert "is encrypted" in refused(capsys, home, str(file))


@pytest.mark.parametrize("damage", ["cut", "flipped", "text", "empty"])
def test_a_zip_file_that_is_not_whole_is_refused(
    home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], damage: str
) -> None:
    file = make_zip(tmp_path / "new.zip", layout("new"), zipfile.ZIP_STORED)
    whole = bytearray(file.read_bytes())
    if damage == "flipped":
        whole[200] ^= 1
    file.write_bytes(
        {"cut": whole[:-300], "text": b"no zip file", "empty": b""}.get(damage, bytes(whole))
    )
    assert "is not a zip file that is whole" in refused(capsys, home, str(file))


def test_mistakes_in_the_command_are_one_line(
    home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert "there is no such file" in refused(capsys, home, str(tmp_path / "none.zip"))
    assert "is a folder" in refused(capsys, home, str(tmp_path))
    assert "64 digits" in refused(capsys, home, "a.zip", "--sha256", "abc")
    with serving(Served(status=404)) as served:
        line = refused(capsys, home, served.url)
        assert line == f"{served.url}: the server answers 404 Not Found"
    file = make_zip(tmp_path / "new.zip", layout())
    for name in ("../up", "a/b", ".hidden", "-x"):
        assert main(["voice", "install", str(file), f"--name={name}"]) == 2
        assert f"--name {name}" in capsys.readouterr().err


def test_two_installations_at_a_time_do_not_meet(
    home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = make_zip(tmp_path / "new.zip", layout("new"))
    with (home / ".lock").open("a+b") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        assert "another runner voice install is at work" in refused(capsys, home, str(file))


def test_a_full_disk_is_told_in_one_line_and_leaves_the_old_model(tmp_path: Path) -> None:
    """In a mount of 2 MB; with a length told it is known before, without one only meanwhile."""
    if shutil.which("unshare") is None:
        pytest.skip("no unshare here: a small disk cannot be made")
    can = subprocess.run(["unshare", "-rm", "true"], capture_output=True, check=False)
    if can.returncode:
        pytest.skip("unshare is not allowed here: a small disk cannot be made")
    file = make_zip(tmp_path / "large.zip", {**layout(), "big": os.urandom(3_000_000)})
    data = tmp_path / "small"
    data.mkdir()
    script = (
        'mount -t tmpfs -o size=2m none "$1" && old="$1/runner/models/english/am" && '
        'mkdir -p "$old" && echo old > "$old/final.mdl" && '
        '"$2" -m runner voice install "$3" --name english; '
        'echo "status $?, $(cat "$old/final.mdl")"; ls -A "$1/runner/models"'
    )

    def on_a_small_disk(source: str) -> tuple[list[str], list[str]]:
        done = subprocess.run(
            ["unshare", "-rm", "sh", "-c", script, "sh", str(data), sys.executable, source],
            capture_output=True,
            text=True,
            check=True,
            env={**os.environ, "XDG_DATA_HOME": str(data), "no_proxy": "127.0.0.1"},
        )
        errors = [line for line in done.stderr.splitlines() if not line.startswith(STAGES)]
        return done.stdout.split("\n"), errors

    sources = [(str(file), None)]
    for length in (True, False):
        sources.append(("", Served(file.read_bytes(), length=length)))
    for source, server in sources:
        if server is None:
            out, errors = on_a_small_disk(source)
        else:
            with serving(server) as served:
                out, errors = on_a_small_disk(served.url)
        assert len(errors) == 1 and "the disk is full" in errors[0], errors
        assert out[0] == "status 2, old"
        assert not [name for name in out[1:] if name.startswith(".work-")]


def test_an_old_model_that_a_crash_left_aside_comes_back(
    home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    aside = home / ".work-crashed" / "old"
    aside.mkdir(parents=True)
    (home / "english").rename(aside / "english")
    refused(capsys, home, str(make_zip(tmp_path / "new.zip", {})))


def test_a_model_that_is_being_replaced_is_there_at_every_moment(tmp_path: Path) -> None:
    place, work = tmp_path / "english", tmp_path / ".work-1"
    place.mkdir()
    (place / "number").write_text("0")
    missing: list[int] = []
    over = threading.Event()

    def watch() -> None:
        while not over.is_set():
            if not (place / "number").exists():
                missing.append(1)

    watcher = threading.Thread(target=watch)
    watcher.start()
    try:
        for number in range(1, 200):
            new = work / "new"
            new.mkdir(parents=True)
            (new / "number").write_text(str(number))
            exchange(new, place, work)
            recover(work, tmp_path)
    finally:
        over.set()
        watcher.join()
    assert (place / "number").read_text() == "199"
    if sys.platform == "linux":
        assert not missing


def test_a_bar_is_drawn_on_a_terminal_and_lines_elsewhere(home: Path, tmp_path: Path) -> None:
    assert home.is_dir()
    parts = {**layout("new"), "new/big": os.urandom(3_000_000)}
    with serving(Served(make_zip(tmp_path / "new.zip", parts).read_bytes())) as served:
        plain = subprocess.run([*COMMAND, served.url], capture_output=True, text=True, check=False)
        ours, theirs = pty.openpty()
        shown = bytearray()
        reader = threading.Thread(target=lambda: shown.extend(_all_of(ours)))
        reader.start()
        subprocess.run(
            [*COMMAND, served.url], stderr=theirs, check=False, env={**os.environ, "COLUMNS": "60"}
        )
        os.close(theirs)
        reader.join(10)
    lines = plain.stderr.splitlines()
    assert "\r" not in plain.stderr and "\033" not in plain.stderr
    assert sum(line.startswith("Downloading") for line in lines) <= 12
    assert any(line.startswith("Downloading 100%, 3.") for line in lines)
    text = shown.decode()
    assert "Downloading [" in text and "#" * 30 + "] 100%" in text and "\r" in text


def _all_of(descriptor: int) -> Iterator[int]:
    while True:
        try:
            piece = os.read(descriptor, 65_536)
        except OSError:
            return
        if not piece:
            return
        yield from piece


def test_folders_of_an_installation_at_work_are_no_models(home: Path) -> None:
    for name in (".work-1", ".downloads"):
        (home / name / "am").mkdir(parents=True)
        (home / name / "am" / "final.mdl").touch()
    assert [path.name for path in installed_models()] == ["english"]
