"""How sure we are that the best food is a right one: a small logistic model one can read.

The weights are in ``shared/match_model.json`` with how they were fitted; ``benchmarks/fit_match.py`` fits them again.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from pipeline.match.columns import Floats, Ints
from pipeline.match.facets import NEUTRAL
from pipeline.match.features import Features
from pipeline.match.model_file import load_model
from pipeline.match.near import near, near_each
from pipeline.match.rank import Rankings
from pipeline.match.states import sold_otherwise


class Evidence(NamedTuple):
    """What speaks for and against the best food, each about 0 to 1; a number or an array of them."""

    right_mass: float | Floats = (
        0.0  # share of belief held by the best food and foods like it in macros
    )
    spread: float | Floats = 0.0  # how far the other candidates' energy lies from it, by belief
    margin: float | Floats = 0.0  # lead over the best food that differs in macros
    verbatim: float | Floats = 0.0
    whole_name: float | Floats = 0.0
    by_name: float | Floats = 0.0
    name_cover: float | Floats = 0.0
    name_said: float | Floats = 0.0
    name_unsaid: float | Floats = 0.0  # telling words of the name that the line does not say
    name_missing: float | Floats = 0.0  # telling words of the line that the name does not hold
    table_head: float | Floats = 0.0
    word_cover: float | Floats = 0.0
    own_cover: float | Floats = 0.0
    head: float | Floats = 0.0
    own_head: float | Floats = 0.0
    alike: float | Floats = 0.0
    rest_missing: float | Floats = (
        0.0  # telling words anywhere on the line that the food does not explain
    )
    other_maker: float | Floats = 0.0  # a maker's product of just these words differs in macros
    unexplained: float | Floats = 0.0  # words of the line that the food does not explain
    leftover_food: float | Floats = 0.0  # one of them names a food itself
    unsaid: float | Floats = 0.0  # words of the food that cooks would have said
    corrected: float | Floats = 0.0  # a spelling was corrected: the more the shorter the word
    unread: float | Floats = 0.0  # words that nothing uses
    state_no: float | Floats = 0.0
    state_open: float | Floats = 0.0
    unasked: float | Floats = 0.0  # cooked, dried, canned ... and nobody said so
    fat_off: float | Floats = 0.0
    single_word: float | Floats = 0.0
    usual: float | Floats = 0.0
    stand_in: float | Floats = 0.0  # another food than named: the words file says so, or its state
    varies: float | Floats = 0.0  # the name covers products that differ
    state_guessed: float | Floats = 0.0  # the default state is a guess and the line says none


#: A food that the words file calls a stand-in is another food than the one named, however clear the
#: name: labellers took sixteen of eighteen such lines all the same (benchmarks/data), so it is asked.
STOOD_IN = 0.85


#: Features that are evidence as they are, and those that are up to this much.
_AS_THEY_ARE = (
    "verbatim", "whole_name", "by_name", "name_cover", "name_said", "table_head", "word_cover",
    "own_cover", "own_head", "alike", "usual",
)  # fmt: skip
_UP_TO = {
    "name_unsaid": 1.0, "rest_missing": 1.0, "state_no": 1.0, "state_open": 1.0, "fat_off": 1.0,
    "unexplained": 2.0,
}  # fmt: skip


class Best(NamedTuple):
    """The best candidate of each query that has one, among some candidates of ``Rankings``.

    Attributes:
        rows: the candidates looked at, in the order of ``Rankings``.
        start: place in ``rows`` of the first candidate of each query, which is its best, and the
            end of the last.
        belief: share of belief of each of ``rows`` among those of its query.
    """

    rows: Ints
    start: Ints
    belief: Floats

    @property
    def top(self) -> Ints:
        """The best candidates, by their place in ``Rankings``."""
        return self.rows[self.start[:-1]]


def best_of(found: Rankings, rows: Ints) -> Best:
    """The best candidates among ``rows``, with shares of belief: a softmax over the scores."""
    line = found.line[rows]
    first = np.flatnonzero(np.append(True, line[1:] != line[:-1])) if len(rows) else rows
    start = np.append(first, len(rows))
    count = np.diff(start)
    top = np.repeat(found.score[rows[first]], count)
    raw = np.exp((found.score[rows] - top) / load_model().temperature)
    whole = np.add.reduceat(raw, first) if len(rows) else raw
    return Best(rows, start, raw / np.repeat(whole, count))


def evidence(found: Rankings, best: Best) -> Floats:
    """``Evidence`` about each best candidate: shape (queries with one, fields).

    A candidate that the table lacks has none that means anything.
    """
    index, rows, top = found.index, best.rows, best.top
    macros, first = index.foods.macros, best.start[:-1]
    lead = np.repeat(top, np.diff(best.start))
    same = (rows == lead) | near_each(found.food[lead], found.food[rows], macros)
    belief = best.belief

    def added(values: Floats) -> Floats:
        return np.add.reduceat(values, first) if len(rows) else values

    kcal = np.where(found.food >= 0, macros[found.food, 0], np.nan)
    mine = kcal[lead]
    off = np.fmin(1.0, np.abs(kcal[rows] - mine) / np.maximum(mine, 50.0))
    off = np.where(np.isfinite(kcal[rows]), off, 1.0)
    spread = added(np.where(same, 0.0, belief * off))
    another = np.where(same, -np.inf, found.score[rows])
    ahead = found.score[top] - (np.maximum.reduceat(another, first) if len(rows) else another)
    features = dict(zip(Features._fields, found.features[:, top], strict=True))
    told = _said_of(found, top)
    fit = Evidence(
        right_mass=added(np.where(same, belief, 0.0)),
        spread=np.where(np.isfinite(spread), spread, 1.0),
        margin=np.clip(ahead / 6.0, 0.0, 1.0),
        **{name: features[name] for name in _AS_THEY_ARE},
        **{name: np.minimum(1.0, features[name] / most) for name, most in _UP_TO.items()},
        name_missing=np.where(found.name[top] >= 0, np.minimum(1.0, features["name_missing"]), 1.0),
        head=features["name_head"],
        unsaid=np.minimum(1.0, (features["unsaid_head"] + features["unsaid"]) / 4.0),
        unasked=np.minimum(1.0, 0.5 * (features["cooked_unasked"] + features["kept_unasked"])),
        state_guessed=np.where(features["state_yes"] == 0, told.pop("state"), 0.0),
        **told,
    )
    return np.column_stack(fit)


def _said_of(found: Rankings, top: Ints) -> dict[str, Floats]:
    """What the words of each query and the row of its best candidate tell."""
    index = found.index
    columns, macros = index.columns, index.foods.macros
    told = []
    places = (found.line[top], found.food[top], found.sense[top])
    for line, food, sense in zip(*(p.tolist() for p in places), strict=True):
        query = found.asked[line].query
        left, others = found.leftover[line], index.by_words_unbranded.get(query.sorted_words)
        doubt = columns.doubts[columns.sense_doubt[sense]] if sense >= 0 else ""
        told.append(
            (
                others is not None and any(not near(food, other, macros) for other in others),
                bool(left) and any((w,) in index.names and w not in NEUTRAL for w in left),
                min(1.0, sum(3.0 / len(written) for written, _ in query.corrected)),
                min(1.0, 0.5 * len(query.unread)),
                len(found.asked[line].content) == 1,
                doubt == "stand_in" or (
                    food >= 0 and sold_otherwise(query.states, index.foods.states[food])
                ),
                doubt == "varies" and query.fat_pct is None,
                doubt == "state",
            )
        )  # fmt: skip
    names = ("other_maker", "leftover_food", "corrected", "unread", "single_word", "stand_in",
             "varies", "state")  # fmt: skip
    values = np.array(told, float).reshape(-1, len(names)).T
    return dict(zip(names, values, strict=True))


def probability(values: Floats) -> Floats:
    """Probability that each food is right: a logistic model of its evidence."""
    model = load_model()
    z = np.zeros(len(values))
    for weight, column in zip(model.confidence, values.T, strict=True):
        z += weight * column
    sure = 1.0 / (1.0 + np.exp(-np.clip(z + model.intercept, -30.0, 30.0)))
    stand_in = values[:, Evidence._fields.index("stand_in")] > 0
    return np.where(stand_in, np.minimum(sure, STOOD_IN), sure)
