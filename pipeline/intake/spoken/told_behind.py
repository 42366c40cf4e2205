"""What is said of a food behind it: its kind, its state, for whom it is, a figure of the product."""

from __future__ import annotations

import re
from collections.abc import Sequence

from pipeline.intake.spoken.lexicon import Lexicon
from pipeline.intake.spoken.mentions import Mention
from pipeline.intake.spoken.phrases import phrases, word_class
from pipeline.intake.spoken.reading import Reading
from pipeline.intake.spoken.stated import Figure
from pipeline.intake.spoken.talk import Talk

_BEHIND = 9  # words behind a food that are looked at
_NEAR = 12  # words between a line and a figure of its product


def read_behind(talk: Talk, mention: Mention) -> None:
    """Kind, state or brand named after the food: "the five percent one", "that's dry weight"."""
    end = max(mention.end, mention.food.end)
    said = talk.said(end, end + _BEHIND)
    amount = mention.amount
    if amount is not None and re.match(
        r"^(?:, )?(?:per|a|each) (?:person|head|serving|portion)\b(?! of)", said
    ) and not talk.stops(end):  # fmt: skip
        mention.per_person = not amount.apiece
    one = phrases("the_one").match(said)
    if one and not any(w in mention.food.name for w in one["what"].split()):
        what = one["what"].replace(" percent", "%").strip()
        if _tells(talk.known, what.split()):
            mention.notes.append(_share(what))
            return
    if mention.food.notes:
        return
    share = re.match(r"^(?:[,|] )?the (\d{1,2})( percent)?( lean)?(?= |$)(?! of\b)", said)
    if share and amount is not None and (share[2] or float(share[1]) >= 60):
        lean = share[3] or not share[2]
        mention.notes.append(f"{share[1]}% lean" if lean else _share(f"{share[1]}%"))
        return
    state = phrases("state_behind").match(said)
    if state:
        mention.notes.append(state["state"])


def _tells(known: Lexicon, words: list[str]) -> bool:
    """The words tell products apart: a flavour, a state, a percentage."""
    return (word_class("function") | known.ordinals.keys()).isdisjoint(words) and any(
        w in known.kinds or w in known.manners or "%" in w or w == "calorie" or known.fold(w) in known.food_words
        for w in words
    )  # fmt: skip


def _share(text: str) -> str:
    """A share of the food in per cent: up to half of it is fat, more tells by the food what it is."""
    figure = re.search(r"(?:^| )(\d{1,2}(?:\.\d)?) ?%$", text)
    return f"{text} fat" if figure and float(figure[1]) <= 50 else text


def add_figures(r: Reading, figures: Sequence[Figure]) -> None:
    """Give figures of products to the line they were said of."""
    for figure in figures:
        near = [
            m for m in r.found
            if not m.shared and m.start <= figure.end and figure.start - m.end <= _NEAR
        ]  # fmt: skip
        if near:
            target = near[-1]
            if not any("calorie" in w for w in (*target.food.name, *target.notes)):
                target.notes.append(figure.text)
            r.mark(figure, target, "property", "a figure of the product")
