"""Of what a number is that a passage states: of the dish, or of a product, a day or a limit."""

from __future__ import annotations

import re
from collections.abc import Sequence

from pipeline.intake.spoken.amounts import amount_at
from pipeline.intake.spoken.foods import food_span
from pipeline.intake.spoken.phrases import phrases, word_class
from pipeline.intake.spoken.stated import ENERGY, MACROS, Stated
from pipeline.intake.spoken.talk import Talk

DISH, PRODUCT, NOTHING = "dish", "product", "nothing"
_GAP = 9  # words between a measure of a food and its energy
_FULL = 3  # nutrients of a full statement
_SMALL = 80  # kcal: less that is told alone is of a product


def owner(talk: Talk, part: Stated, parts: Sequence[Stated]) -> str:
    """Of what a number is among those stated together: ``DISH``, ``PRODUCT`` where its line may want
    it, or ``NOTHING`` that counts."""
    if part.value <= 0 and part.tag == ENERGY:
        return NOTHING
    before = talk.lead(part.start, 5)
    lead = before.split("|")[-1].replace(",", "").split()[-3:]
    limits = word_class("limit")
    if lead and lead[-1] != "at" and (
        lead[-1] in limits
        or (lead[-1] in word_class("before_limits") and not limits.isdisjoint(lead[:-1]))
    ):  # fmt: skip
        return NOTHING
    if part.tag == ENERGY and not part.bare:
        alone = len({p.tag for p in parts}) <= 1
        what = _of_product(talk, part, lead, before, alone)
        if what:
            return what
    if part.tag == ENERGY and _of_what_is_beside(talk, part, parts):
        return PRODUCT
    first = min(p.start for p in parts)
    if part.tag == "SUGAR" and part.start == first and talk.text[part.end - 2] == "of":
        return NOTHING  # "and 50 grams of sugar. It's 380 calories"
    if phrases("of_a_day").search(talk.said(first - 12, part.start)) or before.endswith(" not"):
        return NOTHING
    energies = (p.start for p in parts if p.tag == ENERGY and p.start < part.start)
    energy = max(energies, default=0)
    if energy and part.tag != ENERGY and not talk.stopped(energy + 1, part.start + 1):
        before = talk.lead(energy, 5)  # "that might be 90 calories with 2 grams of protein"
    full = {p.tag for p in parts} >= {ENERGY, *MACROS}
    supposed = phrases("supposed").search(before) and not (full and before.endswith("be"))
    return NOTHING if supposed else DISH


def _of_product(talk: Talk, part: Stated, lead: list[str], before: str, alone: bool) -> str:
    """Whether an energy is a product's own, which counts where nothing else is stated; "" if not."""
    after = talk.said(part.end, part.end + 4)
    points = lead and lead[-1] in ("the", "those", "these", "of")
    behind = part.end + (talk.close(part.end) == "of")
    noun = behind < talk.n and not talk.words[part.end].breaks and talk.food_length(behind) > 0
    if noun or (alone and points and re.match(r"^[a-z]+\b", after)) or (
        alone and part.value < _SMALL and re.search(r"\bwhich (?:is|are|has)[a-z ]*$", before)
    ):  # fmt: skip
        return PRODUCT
    if not phrases("of_a_measure").match(after) and not _fact_of(talk, part.start):
        return ""
    return PRODUCT if alone else NOTHING


def _of_what_is_beside(talk: Talk, part: Stated, parts: Sequence[Stated]) -> bool:
    """ "And then I have a cheese stick, that's 80 calories": behind the full numbers of a dish, the
    energy of another food that is named before it."""
    before = [p for p in parts if p.end <= part.start]
    last = max((p.end for p in before), default=part.start)
    if len({p.tag for p in before}) < _FULL or any(p.start > part.end for p in parts):
        return False
    shared = phrases("a_serving").search(talk.said(last, part.end + 3))
    return not shared and any(map(talk.food_length, range(last, part.start)))


def _fact_of(talk: Talk, at: int) -> bool:
    """ "A spoon of treacle is about 60 calories": what is known of so much of a food."""
    for begin in range(max(at - _GAP, 0), at):
        amount = amount_at(talk, begin)
        if amount is None or not amount.of or not amount.weighs:
            continue
        food = food_span(talk, amount.end, measured=False)
        if food is not None and food.known and food.name[-1] not in word_class("dish") and (
            food.end < at and not talk.stops(food.end)
            and talk.follows("comes_to", food.end, at + 1 - food.end)
        ):  # fmt: skip
            return True
    return False
