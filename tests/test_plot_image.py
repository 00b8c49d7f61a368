"""Pictures as files: what stands on them, that they are the same each time, and faults."""

from __future__ import annotations

import re
import struct
import subprocess
import sys
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from plot_aircraft import PICTURES, craft
from runner.errors import RunnerError
from runner.figures.card import WARNING
from runner.figures.model import Aircraft
from runner.figures.sheet import Sheet
from runner.plot.image import ENDINGS, draw_panels, draw_pictures
from runner.plot.shapes import Diagram, Line, Scale


def draw(file: Path, whole: Aircraft | None = None, **values: float | str) -> int:
    sheet = Sheet(whole or craft())
    return draw_pictures(sheet, sheet.work_out(values), file)


def words(file: Path) -> list[str]:
    """The texts of an SVG file in order."""
    text = file.read_text(encoding="utf-8")
    return [
        re.sub(r"<[^>]*>", "", one) for one in re.findall(r"<text[^>]*>(.*?)</text>", text, re.S)
    ]


def test_every_picture_says_that_it_is_for_training_only(tmp_path: Path) -> None:
    for pictures in (PICTURES[:1], PICTURES):
        file = tmp_path / "a.svg"
        assert draw(file, craft(pictures)) == len(pictures)
        assert words(file).count(WARNING) == 2


def test_a_picture_bears_titles_units_labels_and_todays_point(tmp_path: Path) -> None:
    file = tmp_path / "a.svg"
    draw(file)
    found = words(file)
    for wanted in (
        "Test Piece, today",
        "climb power",
        "altitude, ft",
        "pressure, inHg",
        "-20",
        "20",
        "today 41.0 inHg",
        "lines: outside temperature, degC (today 10); gear low",
        "rotation speed",
        "today 78 kt",
        "balance envelope",
        "low limit",
        "high limit",
        "today 4200 lb, 88.0 in",
        "power in the climb",
        "gear high",
        "draught, kt",
    ):
        assert wanted in found, wanted


def test_problems_stand_on_the_picture(tmp_path: Path) -> None:
    file = tmp_path / "a.svg"
    draw(file, craft(PICTURES[2:3]), arm=96.0)
    assert "today's point is outside the envelope: 96 is above 95 in" in words(file)


def test_the_same_figures_give_the_same_file(tmp_path: Path) -> None:
    first, second = tmp_path / "a.svg", tmp_path / "b.svg"
    draw(first)
    draw(second)
    assert first.read_bytes() == second.read_bytes()
    assert "<dc:date>" not in first.read_text(encoding="utf-8")
    draw(second, weight=4900.0)
    assert first.read_bytes() != second.read_bytes()


def test_a_png_is_a_png_of_a_size_for_print(tmp_path: Path) -> None:
    file = tmp_path / "a.PNG"
    draw(file)
    data = file.read_bytes()
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    width, height = struct.unpack(">II", data[16:24])
    assert width == 1860
    assert 1000 < height < 4000


def test_lines_differ_by_more_than_colour(tmp_path: Path) -> None:
    file = tmp_path / "a.svg"
    draw(file, craft(PICTURES[:1]))
    text = file.read_text(encoding="utf-8")
    dashes = set(re.findall(r"stroke-dasharray: ([\d. ,]+)", text))
    assert len(dashes) >= 2
    colours = set(re.findall(r"#[0-9a-f]{6}", text)) - {"#000000", "#ffffff"}
    assert all(one[1:3] == one[3:5] == one[5:7] for one in colours), colours


def test_what_the_user_has_set_up_for_matplotlib_stays_as_it_was(tmp_path: Path) -> None:
    import matplotlib

    before = dict(matplotlib.rcParams)
    draw(tmp_path / "a.svg")
    assert dict(matplotlib.rcParams) == before


def test_no_windows_are_prepared(tmp_path: Path) -> None:
    program = (
        "import pathlib, sys\n"
        "sys.path.insert(0, sys.argv[1])\n"
        "from test_plot_image import draw\n"
        "draw(pathlib.Path(sys.argv[2]))\n"
        "assert 'matplotlib.pyplot' not in sys.modules\n"
    )
    file = tmp_path / "a.svg"
    here = Path(__file__).parent
    subprocess.run([sys.executable, "-c", program, str(here), str(file)], check=True, timeout=60)
    assert file.exists()


def test_labels_that_would_lie_upon_one_another_are_moved_apart(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from matplotlib.figure import Figure

    kept: list[Any] = []
    save = Figure.savefig

    def keep(figure: Any, *args: Any, **more: Any) -> None:
        kept.append(figure)
        save(figure, *args, **more)

    monkeypatch.setattr(Figure, "savefig", keep)
    ends = (50.0, 50.1, 50.2, 50.05, 90.0, 10.0)
    lines = tuple(Line(f"line {n}", (((0.0, n), (1.0, end)),)) for n, end in enumerate(ends))
    draw_panels("x", [[Diagram("d", "d", Scale("x"), Scale("y"), lines)]], tmp_path / "a.svg")
    (figure,) = kept
    texts = [text for text in figure.axes[0].texts if text.get_text().startswith("line ")]
    boxes = sorted((text.get_window_extent() for text in texts), key=lambda box: box.y0)
    assert len(boxes) == len(ends)
    assert all(low.y1 <= high.y0 + 1 for low, high in pairwise(boxes))


def test_lines_of_points_and_middles_of_any_shape_are_drawn(tmp_path: Path) -> None:
    lines = (
        Line("points", (((0.0, 1.0),), ((2.0, 3.0),)), joined=False),
        Line("level", (((0.0, 2.0), (2.0, 2.0)),), beside="left"),
        Line("empty", ()),
    )
    file = tmp_path / "a.svg"
    panels = [[Diagram("d", "d", Scale("x"), Scale("y"), lines)]]
    draw_panels("x", panels, file)
    assert {"points", "level"} <= set(words(file))
    assert "empty" not in words(file)


@pytest.mark.parametrize("name", ["a.pdf", "a", ".png", "a.svg.gz"])
def test_another_ending_is_refused_in_one_line(tmp_path: Path, name: str) -> None:
    with pytest.raises(RunnerError) as caught:
        draw(tmp_path / name)
    assert str(caught.value).endswith(f"its name should end in {' or '.join(ENDINGS)}")
    assert list(tmp_path.iterdir()) == []


def test_without_the_library_there_is_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    with pytest.raises(RunnerError) as caught:
        draw(tmp_path / "a.png")
    assert "pip install 'runner-checklists[plot]'" in str(caught.value)
    assert "\n" not in str(caught.value)
    assert caught.value.status == 2


def test_a_file_that_cannot_be_written_is_one_line(tmp_path: Path) -> None:
    with pytest.raises(RunnerError, match=r"a\.png: cannot be written: No such file"):
        draw(tmp_path / "none" / "a.png")


def test_an_aircraft_without_pictures_is_refused(tmp_path: Path) -> None:
    with pytest.raises(RunnerError, match="Test Piece has no pictures"):
        draw(tmp_path / "a.png", replace(craft(), pictures={}))
