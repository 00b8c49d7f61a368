"""A pilot's own takes: what they recorded of each phrase, kept as sound and kept private.

The sound is kept, not what was made of it, because templates are made anew in the noise
that the microphone hears now. One folder a pilot; in it one folder a phrase with its takes
as WAV files (16 kHz, mono, 16 bits), and ``index.json``, which says which folder is whose.

Takes that were *enrolled* (``1.wav``) are the pilot's to change. Those that were *heard* in
flight (``heard-1.wav``) are kept only where the pilot has agreed to it (``settings.json``);
they are few, bounded, and the oldest make room.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import os
import re
import tempfile
import wave
from pathlib import Path

from runner.errors import RunnerError
from runner.phrasing.normal import normalise
from runner.voice.recogniser import RATE

INDEX = "index.json"
VERSION = 1

SETTINGS = "settings.json"

DERIVED = "numbers.npz"
"""What was worked out from the takes of numbers, to be worked out once."""

MOST_HEARD = 3
"""Takes of a phrase that were heard in flight; with the three enrolled they are six."""

HEARD_LIMIT = 16 * 1024 * 1024
"""Bytes of all takes of a pilot that were heard in flight; the oldest make room."""

HEARD = "heard-"

LONGEST_NAME = 60
"""Characters of a phrase that its folder is named by."""

LONGEST_SECONDS = 30.0
"""A longer file is no take of a phrase and is not read."""

DEFAULT_NAME = "pilot"


def takes_folder(name: str = DEFAULT_NAME) -> Path:
    """Where a pilot's takes are kept. Raises ``RunnerError`` for a name that cannot be one."""
    from platformdirs import user_data_path

    if not re.fullmatch(r"\w[\w .-]{0,39}", name) or name.endswith((".", " ")):
        raise RunnerError(
            f"--name {name!r}: a pilot's name has 1 to 40 letters, digits, spaces, dots and hyphens"
        )
    return user_data_path("runner", appauthor=False) / "takes" / name


class Takes:
    """The takes in a folder (by default that of the pilot of no other name).

    What is damaged is left out and named in ``troubles``, one line each. Raises
    ``RunnerError`` where something cannot be written.
    """

    def __init__(self, folder: Path | None = None) -> None:
        self.folder = takes_folder() if folder is None else folder
        self._troubles: dict[str, None] = {}
        self._folders = self._read_index()

    @property
    def troubles(self) -> tuple[str, ...]:
        """What could not be read so far, one line each."""
        return tuple(self._troubles)

    def people(self) -> tuple[str, ...]:
        """The names of all pilots who have takes beside these, in alphabetical order."""
        try:
            return tuple(sorted(path.parent.name for path in self.folder.parent.glob(f"*/{INDEX}")))
        except OSError:
            return ()

    def phrases(self) -> tuple[str, ...]:
        """Every phrase that has takes, in its plain form, in the order of recording."""
        return tuple(phrase for phrase in self._folders if self._files(phrase))

    def known(self) -> tuple[str, ...]:
        """Every phrase that anything is kept of, damaged or not."""
        return tuple(self._folders)

    def takes(self, phrase: str) -> tuple[bytes, ...]:
        """All takes of a phrase: 16-bit mono samples at 16 kHz. Damaged ones are left out."""
        return (*self.enrolled(phrase), *(sound for _, sound in self.heard(phrase)))

    def enrolled(self, phrase: str) -> tuple[bytes, ...]:
        """The takes of a phrase that the pilot recorded."""
        return tuple(sound for _, sound in self.numbered(phrase))

    def numbered(self, phrase: str) -> tuple[tuple[int, bytes], ...]:
        """The takes of a phrase that the pilot recorded, each with its number."""
        return self._sounds(self._files(normalise(phrase)))

    def heard(self, phrase: str) -> tuple[tuple[int, bytes], ...]:
        """The takes of a phrase that were heard in flight, each with its number, oldest first."""
        return self._sounds(self._files(normalise(phrase), HEARD))

    def _sounds(self, files: list[Path]) -> tuple[tuple[int, bytes], ...]:
        found: list[tuple[int, bytes]] = []
        for file in files:
            try:
                found.append((_number(file), _read(file)))
            except (OSError, EOFError, wave.Error, ValueError) as error:
                self._troubles[f"{file}: this take is left out: {_reason(error)}"] = None
        return tuple(found)

    @property
    def retuned(self) -> bool:
        """Whether the pilot has agreed that answers heard in flight are kept; never by itself."""
        try:
            content = json.loads((self.folder / SETTINGS).read_text("utf-8"))
        except (OSError, ValueError):
            return False
        return isinstance(content, dict) and content.get("keep_heard") is True

    def retune(self, agreed: bool) -> None:
        """Keep the pilot's answer to that question; what was heard stays until it is forgotten."""
        try:
            for folder in (self.folder.parent, self.folder):
                _private_folder(folder)
            text = json.dumps({"version": VERSION, "keep_heard": agreed})
            _write_privately(self.folder / SETTINGS, text.encode())
        except OSError as error:
            raise self._cannot(error) from error

    def keep_heard(self, phrase: str, sound: bytes) -> int:
        """Keep a take that was heard in flight; the oldest of its kind make room.

        Gives its number. Raises ``RunnerError`` for a phrase that was never enrolled.
        """
        phrase = _plain(phrase)
        if not self._files(phrase):
            raise RunnerError(f"{self.folder}: '{phrase}' was never enrolled")
        files = self._files(phrase, HEARD)
        number = _number(files[-1]) + 1 if files else 1
        self._keep(phrase, number, sound, HEARD)
        for file in self._files(phrase, HEARD)[:-MOST_HEARD]:
            file.unlink(missing_ok=True)
        self._make_room(self.folder / self._folders[phrase] / f"{HEARD}{number}.wav")
        return number

    def forget_heard(self, phrase: str = "", number: int = 0) -> int:
        """Forget what was heard in flight: of all phrases, of one, or one take; gives how many."""
        gone = 0
        for one in [normalise(phrase)] if phrase else [*self._folders]:
            for file in self._files(one, HEARD):
                if number in (0, _number(file)):
                    file.unlink(missing_ok=True)
                    gone += 1
        return gone

    def _make_room(self, newest: Path) -> None:
        entries: list[tuple[float, int, Path]] = []
        for file in self.folder.glob(f"*/{HEARD}*.wav"):
            with contextlib.suppress(OSError):
                status = file.stat()
                entries.append((status.st_mtime, status.st_size, file))
        total = sum(size for _, size, _ in entries)
        for _, size, file in sorted(entries):
            if total > HEARD_LIMIT and file != newest:
                file.unlink(missing_ok=True)
                total -= size

    def add(self, phrase: str, sound: bytes) -> int:
        """Keep a further take of a phrase, in the place of a damaged one if there is one.

        Gives its number, from 1.
        """
        phrase = _plain(phrase)
        good = {number for number, _ in self.numbered(phrase)}
        number = next(free for free in range(1, len(good) + 2) if free not in good)
        self._keep(phrase, number, sound)
        return number

    def replace(self, phrase: str, number: int, sound: bytes) -> None:
        """Keep ``sound`` in the place of take ``number``, which may be damaged."""
        phrase = _plain(phrase)
        if number not in [int(file.stem) for file in self._files(phrase)]:
            raise RunnerError(f"{self.folder}: '{phrase}' has no take {number} to be replaced")
        self._keep(phrase, number, sound)

    def remove(self, phrase: str) -> None:
        """Forget a phrase and all its takes; one that is not there is forgotten already."""
        phrase = normalise(phrase)
        if phrase not in self._folders:
            return
        place = self.folder / self._folders[phrase]
        files = [*self._files(phrase), *self._files(phrase, HEARD)]
        try:
            del self._folders[phrase]
            self._write_index()
            for file in files:
                file.unlink(missing_ok=True)
            # What somebody else put beside the takes is not ours to delete.
            with contextlib.suppress(OSError):
                place.rmdir()
        except OSError as error:
            raise self._cannot(error) from error

    def clear(self) -> None:
        """Forget everything: all takes, of damaged phrases too, the index and the settings."""
        for phrase in tuple(self._folders):
            self.remove(phrase)
        try:
            for file in self.folder.glob("*/*.wav"):
                if file.stem.removeprefix(HEARD).isdecimal():
                    file.unlink(missing_ok=True)
                    with contextlib.suppress(OSError):
                        file.parent.rmdir()
            for name in (INDEX, SETTINGS, DERIVED):
                (self.folder / name).unlink(missing_ok=True)
            with contextlib.suppress(OSError):
                self.folder.rmdir()
        except OSError as error:
            raise self._cannot(error) from error

    def derived(self) -> bytes:
        """What was worked out from the takes and kept; empty where nothing is."""
        try:
            return (self.folder / DERIVED).read_bytes()
        except OSError:
            return b""

    def keep_derived(self, content: bytes) -> None:
        """Keep what was worked out from the takes; where that cannot be, it is done again."""
        with contextlib.suppress(OSError):
            _write_privately(self.folder / DERIVED, content)

    def _files(self, phrase: str, kind: str = "") -> list[Path]:
        name = self._folders.get(phrase)
        if name is None:
            return []
        try:
            files = [*(self.folder / name).glob(f"{kind}*.wav")]
        except OSError:
            return []
        found = [file for file in files if file.stem.removeprefix(kind).isdecimal()]
        return sorted(found, key=_number)

    def _keep(self, phrase: str, number: int, sound: bytes, kind: str = "") -> None:
        name = self._folders.get(phrase) or _folder_name(phrase)
        try:
            for folder in (self.folder.parent, self.folder, self.folder / name):
                _private_folder(folder)
            _write_privately(self.folder / name / f"{kind}{number}.wav", _wav(sound))
            if phrase not in self._folders:
                self._folders[phrase] = name
                self._write_index()
        except OSError as error:
            raise self._cannot(error) from error

    def _cannot(self, error: OSError) -> RunnerError:
        return RunnerError(
            f"{self.folder}: takes cannot be written ({error.strerror or error}); free some "
            "space or make the folder writable"
        )

    def _write_index(self) -> None:
        content = {"version": VERSION, "phrases": self._folders}
        text = json.dumps(content, ensure_ascii=False, indent=1)
        _write_privately(self.folder / INDEX, text.encode())

    def _read_index(self) -> dict[str, str]:
        file = self.folder / INDEX
        try:
            content = json.loads(file.read_text("utf-8"))
            return _checked(content)
        except FileNotFoundError:
            return {}
        except (OSError, ValueError) as error:
            found = self._from_folders()
            self._troubles[
                f"{file}: the index cannot be read ({_reason(error)}); the names of the folders "
                f"beside it give {len(found)} phrases"
            ] = None
            return found

    def _from_folders(self) -> dict[str, str]:
        """Phrases by the names of their folders; those whose names were cut short are lost."""
        found: dict[str, str] = {}
        with contextlib.suppress(OSError):
            for place in sorted(self.folder.iterdir()):
                phrase = place.name.replace("-", " ")
                if place.is_dir() and _folder_name(phrase) == place.name:
                    found[phrase] = place.name
        return found


def _number(file: Path) -> int:
    return int(file.stem.removeprefix(HEARD))


def _plain(phrase: str) -> str:
    plain = normalise(phrase)
    if not plain:
        raise RunnerError(f"{phrase!r} has no words that could be said")
    return plain


def _folder_name(phrase: str) -> str:
    """A phrase's folder: its words, and a digest where they are cut short."""
    name = phrase.replace(" ", "-")
    if len(name) <= LONGEST_NAME:
        return name
    return f"{name[:LONGEST_NAME]}--{hashlib.sha256(phrase.encode()).hexdigest()[:8]}"


def _checked(content: object) -> dict[str, str]:
    """The phrases of an index; ``ValueError`` where it is not one of ours."""
    if not isinstance(content, dict) or content.get("version") != VERSION:
        raise ValueError(f"it is no index of version {VERSION}")
    phrases = content.get("phrases")
    if not isinstance(phrases, dict):
        raise ValueError("it holds no phrases")
    for phrase, name in phrases.items():
        if not isinstance(name, str) or Path(name).name != name or name in ("", ".", ".."):
            raise ValueError(f"the folder of {phrase!r} is no name of a folder")
    return dict(phrases)


def _reason(error: Exception) -> str:
    if isinstance(error, OSError) and error.strerror:
        return error.strerror
    return str(error) or "it ends too soon"


def _read(file: Path) -> bytes:
    with wave.open(str(file), "rb") as sound:
        if (sound.getframerate(), sound.getnchannels(), sound.getsampwidth()) != (RATE, 1, 2):
            raise ValueError(f"it is not 16-bit mono at {RATE} Hz")
        frames = sound.getnframes()
        if not 0 < frames <= LONGEST_SECONDS * RATE:
            raise ValueError(f"it lasts {frames / RATE:.1f} s")
        samples = sound.readframes(frames)
    if len(samples) != 2 * frames:
        raise EOFError
    return samples


def _wav(sound: bytes) -> bytes:
    content = io.BytesIO()
    with wave.open(content, "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE)
        out.writeframes(sound[: len(sound) // 2 * 2])
    return content.getvalue()


def _private_folder(folder: Path) -> None:
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    folder.chmod(0o700)


def _write_privately(file: Path, content: bytes) -> None:
    """Write a file whole or not at all, for its owner alone."""
    # mkstemp makes files that nobody else may read.
    handle, name = tempfile.mkstemp(prefix=".", dir=file.parent)
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(content)
            out.flush()
            os.fsync(out.fileno())
        Path(name).replace(file)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
