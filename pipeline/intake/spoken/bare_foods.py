"""Foods named without an amount: of an earlier recipe, taken back, or put in all the same."""

from __future__ import annotations

import re
from collections.abc import Callable

from pipeline.intake.spoken.mentions import Chunk, Mention, named_again
from pipeline.intake.spoken.phrases import phrases, word_class
from pipeline.intake.spoken.reading import Reading
from pipeline.intake.spoken.talk import Talk

_NEAR = 14  # words behind a line in which the next stands
_SOON = 24  # words behind a food in which it is denied
_TAKEN = 8  # words behind a line in which it is taken back


def read_food(r: Reading, chunk: Chunk, said_before: Callable[[Chunk], Mention | None]) -> None:
    """A food without an amount, perhaps of an earlier recipe."""
    known = any(named_again(chunk.of.food, m.food) for m in r.found)
    if known and _taken_back(r, chunk):
        return
    back = None if known else said_before(chunk)
    if back is None:
        _bare(r, chunk.of)
        return
    back.start, back.end = chunk.start, chunk.end
    r.found.append(back)
    r.mark(chunk, back, "reference", "its amount was said before")


def _taken_back(r: Reading, chunk: Chunk) -> bool:
    """ "no sorry, not watercress": the line before goes."""
    last, lead = r.last, r.talk.sentence(chunk.start, 6)
    if last is None or not named_again(chunk.of.food, last.food) or (
        chunk.start - last.end > _TAKEN
        or not re.search(r"\bnot(?: the)?$", lead) or not phrases("corrects").search(lead)
    ):  # fmt: skip
        return False
    r.found.pop()
    return r.leave(last, "the speaker takes it back")


def _bare(r: Reading, mention: Mention) -> None:
    """A food without an amount becomes a line only where it plainly goes in."""
    if r.names(mention.food):
        return
    wide = r.talk.sentence(mention.start, 6)
    lead = wide.replace(" ,", ",")
    if phrases("refused").search(lead.replace(",", "")):
        return
    after = r.talk.said(mention.end, mention.end + 4)
    vague = phrases("vague_amount").search(lead)
    said = lead.split()
    amount = "" if vague is None else "a bit of" if vague[0].endswith("bit of") else vague[0]
    if phrases("choice").search(wide) or re.match(r"^(?:,? ?)(?:on top )?if (?:you|they)\b", after):
        put_in = vague is not None or phrases("added").search(" ".join(said[-4:])) is not None
        if put_in and not phrases("other_choice").search(wide) and not _declined(r.talk, mention):
            mention.vague = amount
            mention.notes.append("optional")
            r.add(mention)
    elif not r.late:
        near = any(0 <= mention.start - m.end <= _NEAR for m in r.found if not m.shared)
        put_in = near or phrases("added").search(" ".join(said[-5:])) is not None
        passing = re.match(r"^(?:with|job|is|are|was)\b", after)
        measured = vague is not None and (put_in or "left" in vague[0]) and not passing
        if measured or (near and _goes_in(r.talk, mention, lead, after)):
            mention.vague = amount if measured else ""
            r.add(mention)


def _declined(talk: Talk, mention: Mention) -> bool:
    """ "Some people add corned beef. Me, I don't": what is said next denies it."""
    for at in range(mention.end, min(mention.end + _SOON, talk.n)):
        if talk.food_length(at):
            return False
        if talk.text[at] in word_class("negative"):
            return talk.boundary(at + 1)
    return False


def _goes_in(talk: Talk, mention: Mention, lead: str, after: str) -> bool:
    """ "peas in there", "salt and pepper", "and then basil"."""
    broken = talk.words[mention.start].breaks
    if re.match(r"^(?:on|in) (?:there|it|top)\b", after) and not re.search(
        r"\b(?:the|your|that|those|my|goes|back|and)$", lead
    ):
        return True
    if set(mention.food.name) <= {"salt", "and", "pepper"} and (
        broken or re.search(r"(?:^|\b(?:and|with|some|then|plus))$", lead)
    ):
        return True
    return not broken and re.search(r"\b(?:and then|plus|add|adding)$", lead) is not None
