"""The judge: what the recognisers propose becomes one verdict."""

from __future__ import annotations

from collections.abc import Sequence

from runner.engine.effects import Listen
from runner.engine.events import Proposal, Verdict
from runner.voice.text import RECOGNISER as TEXT


def judge(proposals: Sequence[Proposal], listen: Listen) -> Verdict:
    """The verdict on one utterance."""
    del listen
    best = proposals[0] if proposals else None
    if best is None:
        return Verdict("reject", reason="nothing was proposed")
    if best.candidate is None:
        return Verdict("unclear", text=best.text, reason="it is no answer here")
    if best.recogniser == TEXT:
        return Verdict("accept", best.candidate, best.value, best.text, "typed")
    return Verdict("unclear", text=best.text, reason="not sure enough")
