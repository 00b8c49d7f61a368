"""Templates that this machine's own voices make: for phrases that no prototype stands for.

A user's procedures hold words that the shipped prototypes do not know. Their phrases are
said here by the synthesisers that are there (espeak-ng through pyttsx3, flite and festival
where they are installed), embedded as the prototypes were, and kept as points in the user's
cache folder; no sound is kept. A file there that cannot be used is ignored and made anew.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import sys
import tempfile
import threading
from collections.abc import Callable, Iterable, Sequence
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from runner import __version__
from runner.voice.embedding import (
    PAD_SECONDS,
    SPREAD,
    STEP_SECONDS,
    WINDOW_FRAMES,
    Embedder,
    to_samples,
)
from runner.voice.prototypes import transform
from runner.voice.template_voices import Crew, Speaker, speakers

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Points = NDArray[np.float32]

FORMAT = 1
"""Counts changes in how templates are kept."""

ENDING = ".points"

DISK_LIMIT = 24 * 1024 * 1024
"""Bytes of templates on disk, some thousand phrases; those unused for longest go first."""

LARGEST_FILE = 256 * 1024
"""Bytes of one phrase's templates; no larger file is read."""

LONGEST_WORDS = 12
"""Words of the longest phrase that is made; nobody answers with more."""

MOST_WAITING = 2_000
"""Phrases that wait to be made; what is asked for beyond it is not."""

FEWEST = 2
"""Voices that must have said a phrase: one alone is no measure of how a phrase varies."""

THREAD = "templates"

CLOSING_SECONDS = 20.0
"""How long the phrase that is being made is waited for in the end: it is given up at the next
voice, which takes a fraction of a second on an idle machine."""

NICE = 10
"""Making templates waits for whatever else there is to do."""


def default_folder() -> Path:
    """Where the user's system keeps caches, for templates."""
    import platformdirs

    return Path(platformdirs.user_cache_path("runner", appauthor=False)) / "templates"


class MadeTemplates:
    """Templates by phrase, made in the background and kept on disk.

    ``say`` turns a phrase's plain words into what a synthesiser is given. ``of`` chooses the
    voices (all of the language's by default).
    """

    def __init__(
        self,
        embedder: Embedder,
        folder: Path | None = None,
        say: Callable[[str], str] = str,
        language: str = "en",
        of: Sequence[Speaker] | None = None,
    ) -> None:
        self._embedder = embedder
        self._folder = default_folder() if folder is None else folder
        self._say = say
        self._language = language
        self._speakers = of
        self._waiting: dict[str, None] = {}
        self._failed: set[str] = set()
        self._change = threading.Condition()
        self._thread: threading.Thread | None = None
        self._busy = False
        self._closed = False
        self.made = 0
        """Phrases made since the start: who kept an answer of ``paths`` may ask again."""

    def paths(self, text: str) -> tuple[Points, ...]:
        """A phrase's templates, a path a voice; empty while there are none."""
        import numpy as np

        kept = self._kept(text)
        if kept is None:
            return ()
        lengths, body = kept
        points = np.frombuffer(body, dtype=np.int8).reshape(sum(lengths), -1)
        ends = np.cumsum(lengths)
        return tuple(
            (points[end - length : end] / 127).astype(np.float32)
            for end, length in zip(ends, lengths, strict=True)
        )

    def make(self, texts: Iterable[str]) -> None:
        """Have phrases made that are not there; returns at once.

        What is asked for last is made first, in the order given: it is needed soonest.
        """
        wanted = dict.fromkeys(
            text
            for text in texts
            if 0 < len(text.split()) <= LONGEST_WORDS and text not in self._failed
        )
        fresh = {text: None for text in wanted if self._kept(text) is None}
        if not fresh:
            return
        with self._change:
            if self._closed:
                return
            rest = {text: None for text in self._waiting if text not in fresh}
            self._waiting = dict.fromkeys([*fresh, *rest][:MOST_WAITING])
            if self._thread is None:
                self._thread = threading.Thread(target=self._work, daemon=True, name=THREAD)
                self._thread.start()
            self._change.notify_all()

    def wait(self, seconds: float) -> bool:
        """Wait until everything asked for is made or given up; whether it is."""
        with self._change:
            return self._change.wait_for(lambda: not self._waiting and not self._busy, seconds)

    def close(self) -> None:
        """Make nothing more; what waits is made another time."""
        with self._change:
            self._closed = True
            self._waiting.clear()
            self._change.notify_all()
        if self._thread is not None:
            # A program that ends in the middle of an embedding is aborted by its runtime.
            self._thread.join(CLOSING_SECONDS)

    def _work(self) -> None:
        _yield_to_others()
        _prune(self._folder, DISK_LIMIT)
        chosen = self._speakers
        with tempfile.TemporaryDirectory(prefix="runner-templates-") as folder:
            crew: Crew | None = None
            while True:
                with self._change:
                    self._busy = False
                    self._change.notify_all()
                    self._change.wait_for(lambda: self._waiting or self._closed)
                    if self._closed:
                        break
                    text = next(iter(self._waiting))
                    del self._waiting[text]
                    self._busy = True
                if crew is None:
                    of = speakers(self._language) if chosen is None else chosen
                    crew = Crew(of, lambda: self._closed)
                try:
                    done = self._keep(text, crew.say(self._say(text), Path(folder)))
                except (OSError, ValueError, RuntimeError):
                    done = False
                if done:
                    self.made += 1
                else:
                    self._failed.add(text)
            if crew is not None:
                crew.close()

    def _file(self, text: str) -> Path:
        key = "\n".join((str(FORMAT), __version__, _space(), self._say(text)))
        return self._folder / f"{hashlib.sha256(key.encode()).hexdigest()[:40]}{ENDING}"

    def _kept(self, text: str) -> tuple[list[int], bytes] | None:
        """The numbers of points, and the points, of a good file; None where there is none."""
        file = self._file(text)
        try:
            if file.stat().st_size > LARGEST_FILE:
                return None
            head, _, body = file.read_bytes().partition(b"\n")
            stored = json.loads(head)
            lengths = stored["lengths"]
            good = (
                stored["text"] == text
                and stored["sha256"] == hashlib.sha256(body).hexdigest()
                and len(lengths) >= FEWEST
                and all(isinstance(length, int) and length > 0 for length in lengths)
                and len(body) == sum(lengths) * _dimensions()
            )
        except (OSError, ValueError, KeyError, TypeError):
            return None
        if not good:
            return None
        with contextlib.suppress(OSError):
            os.utime(file)
        return list(lengths), body

    def _keep(self, text: str, sounds: Sequence[bytes]) -> bool:
        import numpy as np

        if len(sounds) < FEWEST:
            return False
        made = transform()
        paths = []
        for sound in sounds:
            if self._closed:
                return False
            paths.append(made(self._embedder.path(to_samples(sound)).embedded))
        points = np.round(np.vstack(paths) * 127).astype(np.int8).tobytes()
        head = {
            "text": text,
            "lengths": [len(path) for path in paths],
            "sha256": hashlib.sha256(points).hexdigest(),
        }
        self._folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=".", dir=self._folder)
        try:
            with os.fdopen(handle, "wb") as out:
                out.write(json.dumps(head).encode() + b"\n" + points)
            Path(name).replace(self._file(text))
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
        return True


@lru_cache(maxsize=1)
def _space() -> str:
    """A digest of what the points mean: templates of another space are none."""
    made = transform()
    about = f"{STEP_SECONDS} {WINDOW_FRAMES} {PAD_SECONDS} {SPREAD}"
    digest = hashlib.sha256(about.encode())
    digest.update(made.mean.tobytes())
    digest.update(made.matrix.tobytes())
    return digest.hexdigest()


def _dimensions() -> int:
    return int(transform().matrix.shape[1])


def _prune(folder: Path, limit: int) -> None:
    """Delete the files unused for longest until the folder holds at most ``limit`` bytes."""
    entries: list[tuple[float, int, Path]] = []
    with contextlib.suppress(OSError):
        for file in folder.glob(f"*{ENDING}"):
            with contextlib.suppress(OSError):
                status = file.stat()
                entries.append((status.st_mtime, status.st_size, file))
    total = sum(size for _, size, _ in entries)
    for _, size, file in sorted(entries):
        if total <= limit:
            break
        with contextlib.suppress(OSError):
            file.unlink()
            total -= size


def _yield_to_others() -> None:
    """This thread alone runs when nothing else wants to, where a thread can be told so."""
    if sys.platform == "linux":
        with contextlib.suppress(OSError):
            os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), NICE)
