"""How sure we are that the best food is a right one: a small logistic model one can read.

The weights stand in ``shared/match_model.json`` with how they were fitted; ``benchmarks/fit_match.py`` fits them again.
"""

from __future__ import annotations

import math
from operator import mul
from typing import NamedTuple

from pipeline.match.facets import NEUTRAL
from pipeline.match.index import Index
from pipeline.match.model_file import load_model
from pipeline.match.near import near
from pipeline.match.query import Query
from pipeline.match.rank import Ranked, Ranking


class Evidence(NamedTuple):
    """What speaks for and against the best food, each about 0 to 1."""

    right_mass: float = 0.0  # share of belief held by the best food and foods like it in macros
    spread: float = 0.0  # how far the other candidates' energy lies from it, by belief
    margin: float = 0.0  # lead over the best food that differs in macros
    verbatim: float = 0.0
    whole_name: float = 0.0
    by_name: float = 0.0
    name_cover: float = 0.0
    name_said: float = 0.0
    name_unsaid: float = 0.0  # telling words of the name that the line does not say
    name_missing: float = 0.0  # telling words of the line that the name does not hold
    table_head: float = 0.0
    word_cover: float = 0.0
    own_cover: float = 0.0
    head: float = 0.0
    own_head: float = 0.0
    alike: float = 0.0
    rest_missing: float = 0.0  # telling words anywhere on the line that the food does not explain
    other_maker: float = 0.0  # a maker's product of just these words differs in macros
    unexplained: float = 0.0  # words of the line that the food does not explain
    leftover_food: float = 0.0  # one of them names a food itself
    unsaid: float = 0.0  # words of the food that cooks would have said
    mended: float = 0.0  # a spelling was mended: the more the shorter the word
    unread: float = 0.0  # words that nothing uses
    state_no: float = 0.0
    state_open: float = 0.0
    unasked: float = 0.0  # cooked, dried, canned ... and nobody said so
    fat_off: float = 0.0
    single_word: float = 0.0
    usual: float = 0.0
    stand_in: float = 0.0  # the words file calls the food a stand-in
    varies: float = 0.0  # the name covers products that differ
    state_guessed: float = 0.0  # the default state is a guess and the line says none


#: A food that the words file calls a stand-in is another food than the one named, however clear the
#: name: labellers took sixteen of eighteen such lines all the same (benchmarks/data), so it is asked.
STOOD_IN = 0.85


def beliefs(candidates: tuple[Ranked, ...]) -> list[float]:
    """Share of belief of each candidate: a softmax over the scores."""
    top = candidates[0].score
    temperature = load_model().temperature
    raw = [math.exp((c.score - top) / temperature) for c in candidates]
    total = sum(raw)
    return [r / total for r in raw]


def evidence(query: Query, ranking: Ranking, index: Index) -> Evidence:
    """The evidence about the best candidate of a ranking, which is a food of a table."""
    candidates = ranking.candidates
    top = candidates[0]
    macros = index.foods.macros
    belief = beliefs(candidates)
    same = [near(top.food, c.food, macros) for c in candidates]
    other = next((c.score for c, s in zip(candidates, same, strict=True) if not s), None)
    margin = 1.0 if other is None else min(1.0, max(0.0, (top.score - other) / 6.0))
    mine = float(macros[top.food, 0])
    spread = sum(
        b * min(1.0, abs(float(macros[c.food, 0]) - mine) / max(mine, 50.0))
        if c.food >= 0 and math.isfinite(float(macros[c.food, 0])) else b
        for c, b, s in zip(candidates, belief, same, strict=True) if not s
    )  # fmt: skip
    fs = top.features
    doubt = top.sense.doubt if top.sense is not None else ""
    return Evidence(
        right_mass=sum(b for b, s in zip(belief, same, strict=True) if s),
        spread=spread if math.isfinite(spread) else 1.0,
        margin=margin,
        verbatim=fs.verbatim,
        whole_name=fs.whole_name,
        by_name=fs.by_name,
        name_cover=fs.name_cover,
        name_said=fs.name_said,
        name_unsaid=min(1.0, fs.name_unsaid),
        name_missing=min(1.0, fs.name_missing) if top.name else 1.0,
        table_head=fs.table_head,
        word_cover=fs.word_cover,
        own_cover=fs.own_cover,
        head=fs.name_head,
        own_head=fs.own_head,
        alike=fs.alike,
        rest_missing=min(1.0, fs.rest_missing),
        other_maker=float(
            any(
                not near(top.food, other, macros)
                for other in index.of_makers(query.rest or query.phrase)
            )
        ),
        unexplained=min(1.0, fs.unexplained / 2.0),
        leftover_food=float(
            any((w,) in index.names and w not in NEUTRAL for w in ranking.leftover)
        ),
        unsaid=min(1.0, (fs.unsaid_head + fs.unsaid) / 4.0),
        mended=min(1.0, sum(3.0 / len(written) for written, _ in query.mended)),
        unread=min(1.0, 0.5 * len(query.unread)),
        state_no=min(1.0, fs.state_no),
        state_open=min(1.0, fs.state_open),
        unasked=min(1.0, 0.5 * (fs.cooked_unasked + fs.kept_unasked)),
        fat_off=min(1.0, fs.fat_off),
        single_word=float(len(ranking.content) == 1),
        usual=fs.usual,
        stand_in=float(doubt == "stand_in"),
        varies=float(doubt == "varies" and query.fat_pct is None),
        state_guessed=float(doubt == "state" and fs.state_yes == 0),
    )


def probability(values: Evidence) -> float:
    """Probability that the food is right: a logistic model of the evidence."""
    model = load_model()
    z = model.intercept + sum(map(mul, model.confidence, values))
    sure = 1.0 / (1.0 + math.exp(-max(-30.0, min(30.0, z))))
    return min(sure, STOOD_IN) if values.stand_in else sure
