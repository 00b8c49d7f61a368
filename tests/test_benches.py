"""The benches are run seldom: what they import is there at any time, all the same."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

BENCHES = sorted((Path(__file__).parent / "bench").glob("*.py"))

IMPORT = """
import runpy, sys
for file in sys.argv[1:]:
    print(file, flush=True)
    runpy.run_path(file, run_name="imported")
"""


def test_every_bench_finds_what_it_imports(tmp_path: Path) -> None:
    pytest.importorskip("numpy")
    files = [str(file) for file in BENCHES]
    # A script finds the files beside it; one that is imported has to be shown them.
    done = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", IMPORT, *files],
        capture_output=True,
        text=True,
        check=False,
        cwd=tmp_path,
        env={"PYTHONPATH": str(BENCHES[0].parent), "PATH": "", "HOME": str(tmp_path)},
    )
    assert done.returncode == 0, f"{done.stdout.splitlines()[-1:]}: {done.stderr[-600:]}"
    assert len(done.stdout.splitlines()) == len(files) > 20
