"""Who may join a crew, and what becomes of frames that are not what they should be."""

from __future__ import annotations

import os
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runner.crew.trust.channel import FRAME_LIMIT
from runner.crew.trust.code import GUESSES, Code, new_code, read_code
from runner.crew.trust.identity import Identity, load_identity
from runner.crew.trust.links import Came, LetIn, Linked, Links, NotLetIn, Out, WrongCode
from runner.errors import RunnerError


def machine(secret: bytes | None = None) -> Links:
    return Links(Identity(os.urandom(32)), os.urandom, secret)


def carry(sides: dict[str, Links], first: list, now: int, lose=lambda: False) -> list:
    """Carry frames between sides until none is under way; give what else happened."""
    opener = next(iter(sides.values()))
    found, queue = [], list(first)
    while queue:
        event = queue.pop(0)
        if not isinstance(event, Out):
            found.append(event)
        elif not lose():
            side = sides.get(event.to, opener)
            queue += side.receive(event.frame, now)
    return found


def crew() -> tuple[Links, Links, dict[str, Links], Code]:
    a, b = machine(os.urandom(32)), machine()
    code = new_code(os.urandom)
    a.let_in_by(code)
    return a, b, {a.me: a, b.me: b}, code


def paired() -> tuple[Links, Links]:
    a, b, sides, code = crew()
    carry(sides, b.join(code, 0), 0)
    return a, b


def test_the_right_code_lets_a_machine_in_and_gives_it_the_crews_secret():
    a, b, sides, code = crew()
    found = carry(sides, b.join(code, 0), 0)
    assert {type(one) for one in found} == {Linked, LetIn}
    assert b.secret == a.secret
    frame = b.seal(a.me, b"gear up")
    assert a.receive(frame, 1) == [Came(b.me, b"gear up")]
    assert b"gear up" not in frame


def test_a_code_lets_one_machine_in_and_no_second():
    _, b, sides, code = crew()
    carry(sides, b.join(code, 0), 0)
    c = machine()
    found = carry(sides | {c.me: c}, c.join(code, 9000), 9000)
    assert found == [NotLetIn("no code")]


def test_wrong_codes_are_slowed_down_and_then_stopped():
    a, _, sides, code = crew()
    now = 0
    for guess in range(GUESSES):
        stranger = machine()
        wrong = Code(code.room, f"{(int(code.secret) + guess + 1) % 10**6:06d}")
        found = carry(sides | {stranger.me: stranger}, stranger.join(wrong, now), now)
        assert NotLetIn("wrong code") in found
        assert WrongCode(GUESSES - guess - 1) in found
        again = machine()
        found = carry(sides | {again.me: again}, again.join(code, now), now)
        (refusal,) = found
        want = "too many" if guess == GUESSES - 1 else f"wait {2 << guess} s"
        assert refusal.reason.startswith(want)
        now += 2000 << guess
    late = machine()
    (found,) = carry(sides | {late.me: late}, late.join(code, now + 10**7), now + 10**7)
    assert "new code" in found.reason
    assert not a.linked


def test_many_guesses_at_once_are_one_guess():
    a, _, _, code = crew()
    strangers = [machine() for _ in range(8)]
    hellos = [s.join(Code(code.room, "000000"), 0)[0] for s in strangers]
    answers = [a.receive(hello.frame, 0)[0] for hello in hellos]
    proofs = [s.receive(answer.frame, 0)[0] for s, answer in zip(strangers, answers, strict=True)]
    for proof in proofs:
        a.receive(proof.frame, 0)
    assert a.lock.wrong == 1


def test_members_link_again_by_themselves_with_fresh_keys():
    a, b = paired()
    old = b.seal(a.me, b"before")
    reborn = Links(b.identity, os.urandom, b.secret)
    found = carry({a.me: a, b.me: reborn}, reborn.meet(a.me, 5000), 5000)
    assert found == [Linked(b.me, False), Linked(a.me, False)]
    assert a.receive(reborn.seal(a.me, b"after"), 8001) == [Came(b.me, b"after")]
    assert a.receive(old, 8002) == []
    assert a.refused["of another connection"] == 1


def test_two_who_ask_each_other_at_once_end_with_the_same_keys():
    a, b = paired()
    a2, b2 = (Links(side.identity, os.urandom, side.secret) for side in (a, b))
    carry({a2.me: a2, b2.me: b2}, a2.meet(b2.me, 0) + b2.meet(a2.me, 0), 0)
    assert a2.receive(b2.seal(a2.me, b"x"), 1) == [Came(b2.me, b"x")]
    assert b2.receive(a2.seal(b2.me, b"y"), 1) == [Came(a2.me, b"y")]


@settings(max_examples=100, deadline=None)
@given(st.randoms(use_true_random=False))
def test_however_exchanges_cross_both_can_read_each_other(chance):
    a, b = PAIR
    sides = {s.identity.id.hex(): Links(s.identity, os.urandom, s.secret) for s in (a, b)}
    one, other = sides.values()
    queue = one.meet(other.me, 0) + other.meet(one.me, 0)
    now = 0
    while queue:
        now += 10
        event = queue.pop(chance.randrange(len(queue)))
        if isinstance(event, Out):
            queue += sides[event.to].receive(event.frame, now)
    assert other.receive(one.seal(other.me, b"x"), now) == [Came(one.me, b"x")]
    assert one.receive(other.seal(one.me, b"y"), now) == [Came(other.me, b"y")]


def test_pairing_gets_through_a_network_that_loses_half():
    chance = random.Random(7)
    a, b, sides, code = crew()
    carry(sides, b.join(code, 0), 0, lambda: chance.random() < 0.5)
    for now in range(500, 20_000, 500):
        carry(sides, b.tick(now), now, lambda: chance.random() < 0.5)
    assert b.secret == a.secret and a.linked and b.linked


def test_a_frame_counts_once_and_in_its_order():
    a, b = paired()
    first, second, third = (b.seal(a.me, bytes([n])) for n in range(3))
    assert a.receive(first, 0) and a.receive(third, 0)
    assert not a.receive(second, 0) and not a.receive(third, 0) and not a.receive(first, 0)
    assert a.refused["repeated or overtaken"] == 3


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_no_altered_frame_is_taken(data):
    a, b = PAIR
    frame = bytearray(b.seal(a.me, b"gear up"))
    bit = data.draw(st.integers(0, len(frame) * 8 - 1))
    frame[bit // 8] ^= 1 << bit % 8
    assert not [one for one in a.receive(bytes(frame), 0) if isinstance(one, Came)]


PAIR = paired()


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=200))
def test_what_is_no_frame_is_counted_and_changes_nothing(frame):
    a, _ = PAIR
    before = sum(a.refused.values())
    assert not [one for one in a.receive(frame, 0) if not isinstance(one, Out)]
    assert sum(a.refused.values()) == before + 1


def test_a_frame_beyond_the_limit_is_refused():
    a, _ = paired()
    assert a.receive(bytes(FRAME_LIMIT + 1), 0) == []
    assert a.refused["too long"] == 1


def test_a_flood_from_a_member_is_cut_to_its_rate():
    a, b = paired()
    taken = sum(bool(a.receive(b.seal(a.me, b"x"), 0)) for _ in range(9000))
    assert taken == 8000
    assert a.refused["too many"] == 1000
    assert a.receive(b.seal(a.me, b"x"), 1000)


def test_a_member_cannot_pass_for_another():
    a, b = paired()
    c = Links(Identity(os.urandom(32)), os.urandom, a.secret)
    thief = Links(Identity(os.urandom(32)), os.urandom, a.secret)
    thief._id = c.identity.id
    for ask in thief.meet(a.me, 0):
        hello = ask.frame[:2] + c.identity.id + ask.frame[18:]
        for answer in a.receive(hello, 0):
            for proof in thief.receive(answer.frame, 0):
                a.receive(proof.frame, 0)
    assert c.me not in a.linked and b.me in a.linked


def test_a_code_is_read_as_it_is_shown_typed_or_said():
    code = Code("4821", "472918")
    assert read_code(str(code)) == code
    assert read_code("4821-472-918") == code
    said = "fower eight two one, four seven two, niner one eight"
    assert read_code(said) == code
    with pytest.raises(RunnerError, match="ten digits"):
        read_code("4821 472")


def test_a_machine_keeps_its_key_to_itself(tmp_path):
    path = tmp_path / "crew" / "key"
    made = load_identity(path)
    assert load_identity(path) == made
    assert path.stat().st_mode & 0o077 == 0
    path.write_bytes(b"short")
    with pytest.raises(RunnerError, match="no crew key"):
        load_identity(path)
