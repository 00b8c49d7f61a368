"""Words stay the words they are, limits hold, and no bytes lead to a traceback."""

from __future__ import annotations

import random

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from checklist_files import AIRCRAFT, MARK, PROCEDURES, VOICE, errors_of
from runner.checklist.files import read_bytes
from runner.checklist.load import load_procedures_text
from runner.checklist.nodes import (
    MAX_BYTES,
    MAX_EXPANDED,
    MAX_NESTING,
    Mapping,
    Scalar,
    compose,
    decode,
    plain,
)
from runner.checklist.problems import FileErrors, Problems


def read(text: str) -> tuple[object, list[str]]:
    problems = Problems()
    root = compose(text, "f.yaml", problems)
    return None if root is None else plain(root), [str(p) for p in problems.found]


@pytest.mark.parametrize(
    "word",
    ["on", "off", "yes", "no", "y", "true", "null", "~", "12:30", "0123", "0x1F", "1e3", "=", "<<",
     "2026-01-02", "1_000", ".inf", "-5", "it's fine", "both, and four", "a/b", "50%", "<figure>"],
)  # fmt: skip
def test_a_word_is_never_turned_into_something_else(word: str) -> None:
    assert read(f"a: {word}\n") == ({"a": word}, [])
    assert read(f"{word}: a\n") == ({word: "a"}, [])


def test_every_node_knows_its_place() -> None:
    root = compose("a: one\nb:\n  - two\n  - c: 'three'\n", "f.yaml", Problems())
    assert root is not None
    places = {str(key.text): str(value.where) for key, value in root.entries}
    assert places == {"a": "f.yaml:1:4", "b": "f.yaml:3:3"}
    node = root.get("b")
    assert not isinstance(node, Scalar | Mapping | None)
    assert str(node.items[1].where) == "f.yaml:4:5"


def test_a_place_inside_a_text_counts_quotes_and_gives_up_where_lines_are_folded() -> None:
    root = compose("a: plain\nb: 'quoted'\nc: 'it''s'\nd: >\n  folded\n", "f", Problems())
    assert root is not None
    places = [str(v.at(2)) for _, v in root.entries if isinstance(v, Scalar)]
    assert places == ["f:1:6", "f:2:7", "f:3:4", "f:4:4"]


SYNTAX = [
    ("challenge: Flaps¦: up", 'in quotes, as challenge: "Flaps: up"'),
    ("response: ¦- up", 'starts with - is not read as text; put it in quotes, as response: "- up"'),
    ("- ¦@here", 'in quotes, as - "@here"'),
    ("a: ¦[x", 'as a: "[x"'),
    ("a: ¦[x] y", 'as a: "[x] y"'),
    ("a: ¦{x", 'as a: "{x"'),
    ('a: ¦"on" / off', "as a: 'on\" / off'"),
    ("a: ¦'x", 'as a: "x"'),
    ("a: ¦%x", 'as a: "%x"'),
    ("a: ¦`x", 'as a: "`x"'),
    ("a: ¦| x", 'as a: "| x"'),
    ("0: ¦-\n1: 2", 'as 0: "-"'),
    ("a: ¦*both", "refers to nothing before it"),
    ("a: ¦&both on", "'&both' would be lost"),
    ("a: ¦!x y", "'!x' is read as a tag"),
    ("a: ¦!x {b: c}", "'!x': tags are not used here"),
    ("a: Engine¦ #3 out", "'#3 out' would be lost as a comment"),
    ('a: "Engine"¦ #3 out', "'#3 out' would be lost as a comment"),
    ("a:\n  b: 1\n ¦c: 2", "does not fit with the lines above"),
    ("a: x\n  b¦: y", "does not fit with the lines above"),
    ("a: 1\n¦\tb: 2", "use spaces to indent"),
    ("a: 1\n¦hello\nb: 2", "'hello' is not 'key: value'"),
    ('a: "¦\\q"', "a backslash cannot stand in double quotes"),
    ("¦hello", "the file has no keys"),
    ("¦", "the file has no keys"),
    ("¦- a", "the file has no keys"),
    ("a: 1\n¦---\nb: 2", "one document"),
    ("a: 1\n¦a: 2", "'a' stands here twice (first in line 1)"),
    ("? ¦[a]\n: b", "a key is one line of text"),
    ("a: ¦\x07", "character U+0007 cannot stand in a file"),
    ("a: ¦\ud800", "character U+D800"),
]  # fmt: skip


@pytest.mark.parametrize(("marked", "message"), SYNTAX)
@pytest.mark.parametrize("pure", [False, True])
def test_a_line_that_cannot_be_read_is_named_with_how_to_write_it(
    marked: str, message: str, pure: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    if pure:
        monkeypatch.delattr(yaml, "CSafeLoader")
    before, _, after = marked.partition(MARK)
    lines = before.split("\n")
    _, found = read(before + after)
    assert len(found) == 1
    assert message in found[0]
    if not pure:
        assert found[0].startswith(f"f.yaml:{len(lines)}:{len(lines[-1]) + 1}: ")


@pytest.mark.parametrize(
    "good", ["a: b # a comment", "a: b #", "#!x\na: b", "a: 'x #3'", "a: |\n  x #3\n"]
)
def test_a_comment_and_a_quoted_number_sign_are_let_be(good: str) -> None:
    assert read(good)[1] == []


def test_a_file_is_at_most_two_megabytes() -> None:
    problems = Problems()
    assert decode(b"a" * (MAX_BYTES + 1), "f.yaml", problems) is None
    assert "larger than 2,000,000 bytes" in str(problems.found[0])
    assert "larger" in read("a: " + "b" * MAX_BYTES)[1][0]
    assert "larger" in read("a: " + "é" * (MAX_BYTES // 2))[1][0]


def test_bytes_that_are_not_utf_8_are_named_by_place() -> None:
    problems = Problems()
    assert decode(b"a: 1\nb: \xff\n", "f.yaml", problems) is None
    assert str(problems.found[0]) == "f.yaml:2:4: this is not UTF-8 text; save the file as UTF-8"


def test_a_byte_order_mark_and_windows_lines_are_read() -> None:
    assert decode(b"\xef\xbb\xbfa: 1\r\n", "f", Problems()) == "a: 1\r\n"
    assert read("\ufeffa: 1\r\nb: 2\r\n") == ({"a": "1", "b": "2"}, [])


def test_nesting_is_bounded() -> None:
    assert read("a: " + "[" * (MAX_NESTING - 1) + "]" * (MAX_NESTING - 1))[1] == []
    assert "nested deeper than 32" in read("a: " + "[" * 40)[1][0]
    assert len(read("a: " + "[" * 100_000)[1][0]) < 200
    deep = "a: &x " + "[" * 20 + "]" * 20 + "\nb: " + "[" * 20 + "*x" + "]" * 20
    assert "nested deeper than 32" in read(deep)[1][0]


def test_aliases_stand_for_their_value_and_a_billion_laughs_are_refused() -> None:
    assert read("a: &x [1, 2]\nb: *x\n") == ({"a": ["1", "2"], "b": ["1", "2"]}, [])
    assert read("a: &x on\nb: *x\n") == ({"a": "on", "b": "on"}, [])
    laughs = "a0: &a0 [x, x]\n" + "".join(
        f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]\n" for n in range(1, 30)
    )
    assert f"aliases repeat more than {MAX_EXPANDED:,}" in read(laughs)[1][-1]
    assert "refers to nothing" in read("a: &x [*x]")[1][0]


def lines_of(text: str) -> list[str]:
    """What the loader says of any text; fails on anything but errors of the file."""
    try:
        load_procedures_text(text, "p.yaml", AIRCRAFT, "a.yaml")
    except FileErrors as errors:
        for error in errors.errors:
            assert "\n" not in str(error)
        return [str(error) for error in errors.errors]
    return []


@given(st.binary(max_size=300))
@settings(max_examples=200, deadline=None)
def test_no_bytes_lead_to_a_traceback(data: bytes) -> None:
    problems = Problems()
    text = decode(data, "f.yaml", problems)
    if text is not None:
        compose(text, "f.yaml", problems)
        assert lines_of(text)


@given(st.text(alphabet="a:-[]{}&*!|>'\"%@`#?, \n\t<é1", max_size=60))
@settings(max_examples=400, deadline=None)
def test_no_text_leads_to_a_traceback(text: str) -> None:
    assert lines_of(text)
    assert lines_of(PROCEDURES.replace("ten / (flaps)? ten set", text, 1)) is not None


SNIPPETS = [
    "", ":", ": ", "- ", "[", "]", "{", "}", "&a ", "*a", "!", "|", ">", "'", '"', "#", " #3", "?",
    "\t", "\n", "  ", "<", ">", "<engine>", "(", ")", "/", "rises to", "each engine: yes\n",
    "same as: a.b", "yes", "1e99", "-", "9" * 30, "\x00", "é", "a" * 200, "oil_pressure_1", "^",
]  # fmt: skip


@given(st.integers(0, 2**32), st.sampled_from(["procedures", "aircraft", "voice"]))
@settings(max_examples=300, deadline=None)
def test_no_change_to_a_good_file_leads_to_a_traceback(seed: int, kind: str) -> None:
    rolls = random.Random(seed)
    text = {"procedures": PROCEDURES, "aircraft": AIRCRAFT, "voice": VOICE}[kind]
    for _ in range(rolls.randint(1, 3)):
        start = rolls.randrange(len(text))
        end = start + rolls.choice([0, 0, 1, 3, 20, 80])
        text = text[:start] + rolls.choice(SNIPPETS) + text[end:]
    for line in errors_of(kind, text):
        assert line.startswith(("p.yaml:", "a.yaml:", "v.yaml:"))


def test_a_folder_and_a_missing_file_cannot_be_read(tmp_path) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(FileErrors, match="this is a folder"):
        read_bytes(tmp_path)
    with pytest.raises(FileErrors, match="cannot be read: No such file"):
        read_bytes(tmp_path / "none.yaml")
