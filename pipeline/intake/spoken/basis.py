"""For what the numbers of a statement are: a serving, all that is made, or 100 g."""

from __future__ import annotations

import re
from collections.abc import Sequence

from pipeline.intake.model import Basis
from pipeline.intake.spoken.labels import number_at
from pipeline.intake.spoken.phrases import phrases
from pipeline.intake.spoken.stated import ENERGY, MACROS, Stated, Total, is_share, off, possible
from pipeline.intake.spoken.talk import Talk

WHOLE: Basis = "per_recipe"
SHARE: Basis = "per_serving"
_BEFORE, _BEHIND = 9, 7  # words beside a number that say for what it is
_FIRST = 8  # and before the first
_SAID = 40  # words around the energy of a whole in which the number of its shares is said
_NEAR = 20  # words behind it in which that of a share may stand


def set_bases(talk: Talk, parts: Sequence[Stated]) -> None:
    """Tell of each number for what it is: what words beside it say, else as the one before."""
    told: Basis | None = None
    ordered = sorted(parts, key=lambda p: p.start)
    for at, part in enumerate(ordered):
        stop = ordered[at + 1].start if at + 1 < len(ordered) else talk.n
        since = ordered[at - 1].end if at else part.start - _FIRST
        before = talk.said(max(since, part.start - _BEFORE), part.start).split("| ")[-1]
        after = talk.said(part.end, min(stop, part.end + _BEHIND)).split(" | ")[0]
        part.basis = told = _told(before, after) or told
    energies = [p for p in ordered if p.tag == ENERGY]
    for one in energies:
        for other in energies:
            follows = one.start < other.start and one.basis in (None, other.basis)
            if follows and is_share(one.value, other.value):
                one.basis, other.basis = WHOLE, SHARE
                behind = [p for p in ordered if p.start > other.start and p.tag != ENERGY]
                if possible(other.value, {p.tag: p.value for p in behind}):
                    for part in behind:
                        part.basis = SHARE
    said = {p.basis for p in ordered if p.basis is not None}
    if len(said) == 1:
        for part in ordered:
            part.basis = part.basis or next(iter(said))


def _told(before: str, after: str) -> Basis | None:
    """For what a number is by the words beside it; None where they do not say."""
    serving, whole = phrases("a_serving"), phrases("the_whole")
    if phrases("per_100").search(f"{before} {after}"):
        return "per_100g"
    if serving.search(re.split(r"\b(?:and|so|which|with|but)\b", after)[0]) or (
        serving.search(before) and not whole.search(after)
    ):
        return SHARE
    return WHOLE if whole.search(f"{before} {after}") else None


def add_share(talk: Talk, total: Total, whole: Stated, taken: set[int]) -> None:
    """ "The dish is 1,800 calories, so between the four of us 450": an energy without a word,
    known by the number of shares that it makes, which is said, or by the word for a share.

    Args:
        talk: all that is said.
        total: gets the energy of the share.
        whole: its energy.
        taken: words that are numbers stated.
    """
    if any(p.tag == ENERGY and p is not whole for p in total.parts):
        return
    said = range(max(whole.start - _SAID, 0), min(whole.end + _SAID, talk.n))
    counts = {talk.number(at) for at in said if talk.counts(at)}
    grams = total.values
    for at in range(whole.end, min(whole.end + _NEAR, talk.n)):
        item = number_at(talk, at) if talk.counts(at) and at not in taken else None
        if item is None or item.end > at + 1 or not item.value:
            continue
        of_whole = off(whole.value, grams) <= off(item.value, grams)
        counted = round(whole.value / item.value) in counts
        each = talk.follows("a_serving", item.end)
        if not is_share(whole.value, item.value) or not (counted or each) or (
            not (each and counted) and grams.keys() >= MACROS
            and off(whole.value, grams) < off(item.value, grams)
        ):  # fmt: skip
            continue
        for part in total.parts:
            if part.start < at and of_whole:
                part.basis = WHOLE
            elif part.start > at and part.tag != ENERGY:
                part.basis = SHARE
        whole.basis = WHOLE
        total.parts.append(Stated(at, at + 1, ENERGY, item.value, SHARE, bare=True))
        total.end = max(total.end, at + 1)
        taken.add(at)
        return
