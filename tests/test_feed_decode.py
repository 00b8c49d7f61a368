"""Bytes to records: JSON lines and CSV lines, and what is dropped of them."""

from __future__ import annotations

import json

import pytest

from runner.feed.decode import MAX_DEPTH, MAX_NAMES, MAX_RECORDS, Decoder
from runner.feed.lines import MAX_LINE, Lines


def test_a_json_object_is_a_record() -> None:
    assert Decoder().decode(b'{"ias": 98.5, "gear": true, "note": "x"}\r\n') == [
        {"ias": 98.5, "gear": True, "note": "x"}
    ]


def test_a_datagram_may_hold_several_lines_or_a_list_of_objects() -> None:
    assert Decoder().decode(b'{"a": 1}\n{"a": 2}\n') == [{"a": 1}, {"a": 2}]
    assert Decoder().decode(b'[{"a": 1}, {"a": 2}]') == [{"a": 1}, {"a": 2}]


def test_nested_names_are_joined_by_dots_and_list_entries_counted_from_one() -> None:
    line = b'{"engines": [{"rpm": 2300}, {"rpm": 2310}], "speed": {"ias": 98}}'
    assert Decoder().decode(line) == [
        {"engines.1.rpm": 2300, "engines.2.rpm": 2310, "speed.ias": 98}
    ]


@pytest.mark.parametrize(
    "line",
    [
        b"\xff\xfe{}",
        b'{"ias": 98',
        b'{"ias" 98}',
        b'"ias"',
        b"[1, 2]",
        b'{"ias": ' + b"1" * 5000 + b"}",
        b"[" * 60_000,
        b'{"a":' * 10_000 + b"1" + b"}" * 10_000,
        b'{"a":{"b":{"c":{"d":{"e":{"f":1}}}}}}',
        b"{" + b",".join(b'"n%d":1' % n for n in range(MAX_NAMES + 1)) + b"}",
        b'{"a":[' + b",".join([b"1"] * (MAX_NAMES + 1)) + b"]}",
        b'{"a": "' + b"x" * MAX_LINE + b'"}',
        b"plain words",
        b"1,2,3",
        b'a,"b',
        b"\x00\x01,\x02",
        '{"ias": 98}'.encode("utf-16"),
        b"," * 70_000,
    ],
)
def test_a_malformed_line_gives_nothing_and_is_counted_once(line: bytes) -> None:
    decoder = Decoder(known={"ias"})
    assert decoder.decode(line) == []
    assert decoder.malformed == 1
    assert decoder.decode(b'{"ias": 98}') == [{"ias": 98}]


def test_an_empty_line_is_nothing_at_all() -> None:
    decoder = Decoder()
    assert decoder.decode(b"") == decoder.decode(b" \r\n\n") == []
    assert decoder.malformed == 0


def test_nesting_is_taken_up_to_its_bound() -> None:
    line: object = 1
    for _ in range(MAX_DEPTH):
        line = {"a": line}
    assert Decoder().decode(json.dumps(line).encode()) == [{".".join("a" * MAX_DEPTH): 1}]


def test_one_datagram_gives_a_bounded_number_of_records() -> None:
    decoder = Decoder()
    assert len(decoder.decode(b'{"a":1}\n' * 1000)) == MAX_RECORDS
    assert decoder.malformed == 1000 - MAX_RECORDS


@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_csv_takes_its_names_from_the_header_that_is_sent_first(mark: str) -> None:
    decoder = Decoder()
    assert decoder.decode(mark.join(["ias", "alt", "gear"]).encode()) == []
    assert decoder.decode(mark.join(["98.5", "", "down"]).encode()) == [
        {"ias": "98.5", "gear": "down"}
    ]
    assert decoder.malformed == 0


def test_a_header_is_sent_again_or_replaced() -> None:
    decoder = Decoder(known={"ias", "alt"})
    decoder.decode(b"ias,alt")
    decoder.decode(b"ias,alt")
    assert decoder.decode(b"98,300") == [{"ias": "98", "alt": "300"}]
    decoder.decode(b"alt,ias,more")
    assert decoder.decode(b"300,98,1") == [{"alt": "300", "ias": "98", "more": "1"}]
    assert decoder.malformed == 0


def test_a_damaged_row_does_not_become_the_header() -> None:
    decoder = Decoder(known={"ias", "alt"})
    decoder.decode(b"ias,alt")
    assert decoder.decode(b"i#s,q") == []
    assert decoder.decode(b"98,300") == [{"ias": "98", "alt": "300"}]
    assert decoder.malformed == 1


def test_rows_are_read_by_a_header_that_the_map_gives() -> None:
    decoder = Decoder("csv", ("ias", "alt"))
    assert decoder.decode(b"98,300") == [{"ias": "98", "alt": "300"}]
    assert decoder.decode(b"ias,alt") == []
    assert decoder.decode(b"98,300,5") == decoder.decode(b"98") == []
    assert decoder.malformed == 2


def test_rows_before_their_header_are_of_no_use() -> None:
    decoder = Decoder()
    assert decoder.decode(b"98,300") == []
    assert decoder.malformed == 1


def test_a_quoted_cell_may_hold_the_separator() -> None:
    decoder = Decoder()
    decoder.decode(b'"speed, indicated",alt')
    assert decoder.decode(b'98,"300"') == [{"speed, indicated": "98", "alt": "300"}]


def test_semicolons_separate_where_the_header_has_them() -> None:
    decoder = Decoder()
    decoder.decode(b"ias;alt;time")
    assert decoder.decode(b"98,5;300,2;1") == [{"ias": "98,5", "alt": "300,2", "time": "1"}]


def test_a_stream_is_cut_into_lines_wherever_its_pieces_end() -> None:
    stream = b"one\ntwo\r\n\nlast"
    for cut in range(len(stream)):
        lines = Lines()
        got = lines.feed(stream[:cut]) + lines.feed(stream[cut:]) + lines.end()
        assert got == [b"one", b"two\r", b"", b"last"]


@pytest.mark.parametrize("piece", [1000, 65_536, 200_000])
def test_a_line_that_is_too_long_is_dropped_to_its_end_and_the_next_is_kept(piece: int) -> None:
    stream = b"before\n" + b"x" * (MAX_LINE + 1) + b"\nafter\n" + b"y" * 300_000
    lines = Lines()
    got: list[bytes] = []
    kept = 0
    for place in range(0, len(stream), piece):
        got += lines.feed(stream[place : place + piece])
        kept = max(kept, len(lines._rest))
    assert got + lines.end() == [b"before", b"after"]
    assert lines.too_long == 2
    assert kept <= MAX_LINE


def test_a_line_of_the_greatest_length_is_kept() -> None:
    assert Lines().feed(b"x" * MAX_LINE + b"\n") == [b"x" * MAX_LINE]
