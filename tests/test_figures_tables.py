"""Tables: looked up as their axes say, and never beyond them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from figures_aircraft import POWER, SPEEDS
from runner.figures.model import Axis, LookUp, Table
from runner.figures.tables import TableError, look_up, table_faults, working

HEIGHTS = (0.0, 2000.0, 5000.0, 9000.0)
PRESSURES = (29.92, 27.82, 24.90, 21.39)
LINE = Table(
    "air", (Axis("height", "ft", HEIGHTS, "linear"),), (("pressure", "inHg"),), PRESSURES, ""
)


@given(st.floats(0.0, 9000.0))
def test_a_linear_axis_agrees_with_numpy(height: float) -> None:
    (value,) = look_up(LINE, height)
    assert value == pytest.approx(float(np.interp(height, HEIGHTS, PRESSURES)), abs=1e-7)


@given(st.floats(0.0, 4000.0), st.floats(-20.0, 20.0), st.sampled_from(["low", "high"]))
def test_two_linear_axes_are_interpolated_one_after_the_other(
    altitude: float, temperature: float, blower: str
) -> None:
    block = np.array(POWER.values, dtype=float).reshape(2, 2, 3)[("low", "high").index(blower)]
    along = [np.interp(temperature, (-20.0, 0.0, 20.0), row) for row in block]
    expected = float(np.interp(altitude, (0.0, 4000.0), along))
    (value,) = look_up(POWER, blower, altitude, temperature)
    assert value == pytest.approx(expected, abs=1e-7)


@given(st.floats(52000.0, 58000.0))
def test_next_row_up_is_the_first_row_not_below_the_value(weight: float) -> None:
    rows = [row for row in (52000.0, 56000.0, 60000.0) if row >= weight * (1 - 1e-9)]
    expected = {52000.0: 88.0, 56000.0: 91.0, 60000.0: 95.0}[rows[0]]
    one_column = replace(SPEEDS, columns=(("rotate", "kt"),), values=(88.0, 91.0, 95.0))
    assert look_up(one_column, weight) == (expected,)


def test_all_columns_come_together() -> None:
    assert look_up(SPEEDS, 54000.0) == (91.0, 105.0)


@pytest.mark.parametrize("way", ["next row up", "linear", "exact"])
def test_noise_about_a_row_counts_as_the_row(way: LookUp) -> None:
    table = replace(LINE, axes=(replace(LINE.axes[0], look_up=way),))
    for noisy in (2000.0, 2000.0 * (1 + 1e-13), 2000.0 * (1 - 1e-13)):
        assert look_up(table, noisy) == (27.82,)
    for end, value in ((1e-10, 29.92), (-1e-10, 29.92), (9000.0000000001, 21.39)):
        assert look_up(table, end) == (value,)


@pytest.mark.parametrize(
    ("table", "at", "message"),
    [
        (LINE, (9001.0,), "table air covers height from 0 to 9000 ft, not 9001 ft"),
        (LINE, (-1.0,), "table air covers height from 0 to 9000 ft, not -1 ft"),
        (LINE, (float("nan"),), "table air covers height from 0 to 9000 ft, not nan ft"),
        (SPEEDS, (40000.0,), "table speeds covers weight from 52000 to 60000 lb, not 40000 lb"),
        (POWER, ("off", 0.0, 0.0), "table power has no row for blower off; its rows are low, high"),
        (
            LINE,
            ("low",),
            "table air has no row for height low; its rows are 0, 2000, 5000, 9000 ft",
        ),
        (LINE, (0.0, 1.0), "table air wants 1 values, not 2"),
        (
            SPEEDS,
            (59000.0,),
            "table speeds has no climb at weight 60000 lb; a row outside this hole would do",
        ),
    ],
)
def test_beyond_a_table_is_an_error_that_names_its_range(
    table: Table, at: tuple[float | str, ...], message: str
) -> None:
    with pytest.raises(TableError) as caught:
        look_up(table, *at)
    assert str(caught.value) == message


def test_an_exact_axis_of_numbers_wants_a_row_and_lists_some() -> None:
    rows = tuple(float(row) for row in range(20))
    table = Table("t", (Axis("flap", "deg", rows, "exact"),), (("speed", "kt"),), rows, "")
    assert look_up(table, 7.0) == (7.0,)
    with pytest.raises(
        TableError, match=r"no row for flap 7\.5 deg; .* 0, 1, 2, 3, \.\.\., 18, 19"
    ):
        look_up(table, 7.5)


def test_a_hole_is_only_in_the_way_of_what_needs_it() -> None:
    table = replace(LINE, values=(29.92, 27.82, None, 21.39))
    assert look_up(table, 2000.0) == (27.82,)
    with pytest.raises(TableError, match="no pressure at height 5000 ft"):
        look_up(table, 2001.0)


def test_a_table_of_one_row_is_that_row_only() -> None:
    table = Table("one", (Axis("x", "", (5.0,), "linear"),), (("y", ""),), (1.0,), "")
    assert look_up(table, 5.0) == (1.0,)
    with pytest.raises(TableError):
        look_up(table, 5.1)


def test_the_working_names_source_rows_shares_and_cells() -> None:
    lines = working(POWER, 0, ("low", 1000.0, 10.0))
    assert lines == (
        "table power, manifold pressure; source: invented",
        "  blower low: exact, row low",
        "  altitude 1000 ft: linear between rows 0 and 4000 ft, 0.25 of the way",
        "  temperature 10 degC: linear between rows 0 and 20 degC, 0.5 of the way",
        "  pressure: 41 x 0.375 + 42 x 0.375 + 39 x 0.125 + 40 x 0.125 = 41 inHg",
    )
    assert working(SPEEDS, 0, (54000.0,)) == (
        "table speeds; source: invented",
        "  weight 54000 lb: next row up, row 56000 lb",
        "  rotate: 91 kt",
    )
    assert working(LINE, 0, (0.0,))[0] == "table air; source: not given"


@pytest.mark.parametrize(
    ("table", "fault"),
    [
        (replace(LINE, axes=()), "a table has one to three axes, not 0"),
        (replace(LINE, axes=LINE.axes * 4), "a table has one to three axes, not 4"),
        (replace(LINE, columns=()), "gives no column"),
        (replace(SPEEDS, columns=(("a", ""), ("a", ""))), "two columns are named a"),
        (
            replace(LINE, values=(1.0,)),
            "should have 4 values by its rows and columns, not 1",
        ),
        (replace(LINE, values=(1.0, float("nan"), 1.0, 1.0)), "has a value that is not a finite"),
        (replace(LINE, axes=(Axis("h", "ft", (), "linear"),)), "axis h has no rows"),
        (
            replace(LINE, axes=(Axis("h", "ft", (0.0, 2.0, 1.0, 3.0), "linear"),)),
            "rows of axis h must increase: 1 comes after 2",
        ),
        (
            replace(LINE, axes=(Axis("h", "", ("a", "b", "a", "c"), "exact"),)),
            "axis h has the same row twice",
        ),
        (
            replace(LINE, axes=(Axis("h", "", ("a", "b", 1.0, "c"), "exact"),)),  # type: ignore[arg-type]
            "axis h mixes words and numbers",
        ),
        (
            replace(LINE, axes=(Axis("h", "", ("a", "b", "c", "d"), "linear"),)),
            "axis h has rows of words, which are looked up 'exact'",
        ),
    ],
)
def test_a_table_out_of_shape_is_told(table: Table, fault: str) -> None:
    assert any(fault in found for found in table_faults(table))


def test_sound_tables_have_no_faults() -> None:
    assert [table_faults(table) for table in (LINE, SPEEDS, POWER)] == [(), (), ()]
