"""Speech made ahead and kept: a worker makes it, the disk and the memory keep it.

A phrase is kept under the hash of its text, voice, rate and Runner's version, so that a
change of any of them makes it anew.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import subprocess
import sys
import tempfile
import threading
from collections import OrderedDict
from collections.abc import Callable, Sequence
from pathlib import Path

from runner import __version__
from runner.voice.waves import read_wav, trim

DISK_LIMIT = 96 * 1024 * 1024
"""Bytes of speech kept on disk; the phrases unused for longest go first."""

MEMORY_LIMIT = 6 * 1024 * 1024
"""Bytes of speech kept in memory, about one minute."""

WORKER_STARTS = 3
"""How often the worker is started without making one phrase before speech is given up."""


class SpeechStore:
    """Gives the sound of a text, from memory, from disk, or from the worker.

    ``on_made(text, sound, error)`` is called from the worker's reading thread, or at once
    from ``want`` when the sound is kept; ``sound`` is None when it could not be made.
    """

    def __init__(
        self,
        voice: str,
        rate: int,
        folder: Path,
        on_made: Callable[[str, bytes | None, str], None],
    ) -> None:
        self._voice = voice
        self._rate = rate
        self._folder = folder
        self._on_made = on_made
        self._lock = threading.Lock()
        self._memory: OrderedDict[str, bytes] = OrderedDict()
        self._memory_size = 0
        self._wanted: list[str] = []
        self._likely: list[str] = []
        self._making: str | None = None
        self._worker: subprocess.Popen[bytes] | None = None
        self._starts = 0
        self._fatal = ""
        self._closed = False
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError:
            self._folder = Path(tempfile.mkdtemp(prefix="runner-speech-"))

    def file_of(self, text: str) -> Path:
        """Where the sound of ``text`` is kept on disk."""
        key = "\n".join((text, self._voice, str(self._rate), __version__))
        return self._folder / f"{hashlib.sha256(key.encode()).hexdigest()[:40]}.wav"

    def kept(self, text: str) -> bytes | None:
        """The sound when it is in memory or on disk, else None."""
        with self._lock:
            sound = self._memory.get(text)
            if sound is not None:
                self._memory.move_to_end(text)
                return sound
        return self._from_disk(text)

    def want(self, text: str) -> None:
        """``on_made`` will be called with the sound of ``text``, before any that is only likely."""
        sound = self.kept(text)
        if sound is not None:
            self._on_made(text, sound, "")
            return
        with self._lock:
            if text in self._likely:
                self._likely.remove(text)
            if text not in self._wanted and text != self._making:
                self._wanted.append(text)
        self._next()

    def likely(self, texts: Sequence[str]) -> None:
        """Make these when nothing else is to be made; replaces what was likely before."""
        fresh = [text for text in texts if self.kept(text) is None]
        with self._lock:
            self._likely = [text for text in fresh if text not in self._wanted]
        self._next()

    def warm(self) -> None:
        """Start the worker, so that the first new phrase does not wait for it."""
        with self._lock:
            self._ensure_worker()

    def close(self) -> None:
        """End the worker and bring the folder back to its size."""
        with self._lock:
            self._closed = True
            worker = self._worker
        if worker is not None:
            with contextlib.suppress(OSError):
                assert worker.stdin is not None
                worker.stdin.close()
            try:
                worker.wait(1.0)
            except subprocess.TimeoutExpired:
                worker.kill()
                worker.wait()
        prune(self._folder, DISK_LIMIT)

    def _next(self) -> None:
        failed: list[str] = []
        with self._lock:
            if self._making is not None or self._closed:
                return
            queue = self._wanted or self._likely
            if not queue:
                return
            worker = self._ensure_worker()
            if worker is None or worker.stdin is None:
                failed, self._wanted, self._likely = self._wanted, [], []
            else:
                self._making = queue.pop(0)
                request = {
                    "text": self._making,
                    "voice": self._voice,
                    "rate": self._rate,
                    "file": str(self.file_of(self._making).with_suffix(f".{os.getpid()}.part")),
                }
                with contextlib.suppress(OSError):
                    worker.stdin.write(json.dumps(request).encode() + b"\n")
                    worker.stdin.flush()
        for text in failed:
            self._on_made(text, None, "the synthesiser does not start")

    def _ensure_worker(self) -> subprocess.Popen[bytes] | None:
        if self._worker is not None and self._worker.poll() is None:
            return self._worker
        if self._starts >= WORKER_STARTS:
            return None
        self._starts += 1
        self._worker = subprocess.Popen(
            [sys.executable, "-m", "runner.voice.synthesis"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
        threading.Thread(target=self._read, args=(self._worker,), daemon=True).start()
        return self._worker

    def _read(self, worker: subprocess.Popen[bytes]) -> None:
        assert worker.stdout is not None
        for line in worker.stdout:
            answer = json.loads(line)
            with self._lock:
                text, self._making = self._making, None
            if text is not None:
                self._finish(text, Path(answer["file"]), answer["error"])
            self._next()
        with self._lock:
            text, self._making = self._making, None
            again = text is not None and text != self._fatal
            self._fatal = text or ""
            if text is not None and again:
                self._wanted.insert(0, text)
            if self._closed:
                return
        if text is not None and not again:
            self._on_made(text, None, "the synthesiser stops at this text")
        self._next()

    def _finish(self, text: str, part: Path, error: str) -> None:
        if not error:
            try:
                part.replace(self.file_of(text))
            except OSError as problem:
                error = str(problem)
        sound = None if error else self._from_disk(text)
        if sound is not None:
            self._starts = 0
        self._on_made(text, sound, error or ("" if sound else "the synthesiser wrote no sound"))

    def _from_disk(self, text: str) -> bytes | None:
        file = self.file_of(text)
        try:
            sound = trim(read_wav(file))
            os.utime(file)
        except (OSError, ValueError):
            return None
        with self._lock:
            if text not in self._memory:
                self._memory[text] = sound
                self._memory_size += len(sound)
            while self._memory_size > MEMORY_LIMIT and len(self._memory) > 1:
                _, old = self._memory.popitem(last=False)
                self._memory_size -= len(old)
        return sound


def prune(folder: Path, limit: int) -> None:
    """Delete the files unused for longest until the folder holds at most ``limit`` bytes."""
    entries: list[tuple[float, int, Path]] = []
    for file in folder.glob("*.wav"):
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


def default_folder() -> Path:
    """Where the user's system keeps caches, for Runner's speech."""
    import platformdirs

    return Path(platformdirs.user_cache_path("runner", appauthor=False)) / "speech"
