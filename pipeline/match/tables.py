"""Which table answers: the first in the person's order that has the food, and how sure that is.

Names are resolved in the reference table (USDA SR28, which every snapshot holds). The food found
there is then sought in each preferred table the way INFOODS asks for food matching: by its words,
its state, and by comparing the composition. A table's own wording counts too, so that a food the
reference lacks is found in the table that has it. The first table that is sure of its answer wins;
when none is, the surest answer is shown for review.

Source: FAO/INFOODS, Guidelines for Food Matching, version 1.2 (2012), on checking a match by its
key components; the numbers of the rule are those of ``near``.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from pipeline.match.confidence import best_of, evidence, probability
from pipeline.match.facets import NEUTRAL
from pipeline.match.features import Features
from pipeline.match.index import HOMES, Index
from pipeline.match.model_file import load_model
from pipeline.match.near import near
from pipeline.match.query import Query
from pipeline.match.rank import Rankings, head_of
from pipeline.match.states import state_fit

#: How many foods of a table are compared with the reference food.
COMPARED = 25
#: Confidence that a preferred table's food is meant although its values lie apart from the
#: reference food's: never enough to be accepted unseen.
APART = 0.6

_STATE_NO, _KEPT, _COOKED, _OWN_COVER = map(
    Features._fields.index, ("state_no", "kept_unasked", "cooked_unasked", "own_cover")
)


class Ranked(NamedTuple):
    """Some candidates of one query.

    Attributes:
        rows: their places in ``Rankings``, the best first.
        foods, belief: the food and the share of belief of each.
        sure: probability that the best is right; 0 where no table has it.
        line: place of the query.
        name: number of the name that proposes the best, -1 when none does.
    """

    rows: list[int]
    foods: list[int]
    belief: list[float]
    sure: float
    line: int
    name: int


class Choice(NamedTuple):
    """The food that answers a query.

    Attributes:
        food: its position, -1 when no table has one.
        confidence: probability that its composition is right.
        lender: the reference food of the same concept, -1 when none or the food itself.
        ranked: the candidates it was chosen from.
        accept_from: confidence from which it is accepted.
        apart: the values of food and lender lie apart.
    """

    food: int
    confidence: float
    lender: int
    ranked: Ranked
    accept_from: float
    apart: bool = False


def choose_all(found: Rankings) -> dict[int, Choice]:
    """Choose the table and the food of every query that has a candidate, by place of the query."""
    index = found.index
    everything = _ranked(found, np.ones(len(found.line), bool))
    if len(index.tables) == 1 and index.home in index.tables:
        return {line: _best(found, ranked) for line, ranked in everything.items()}
    source = np.array([index.foods.sources[food] if food >= 0 else "" for food in found.food])
    answers = np.array([food >= 0 and index.foods.answers[food] for food in found.food], bool)
    at_home = _ranked(found, (found.food < 0) | (source == index.home))
    own = {
        table: _ranked(found, answers & (source == table))
        for table in index.tables if table != index.home
    }  # fmt: skip
    return {
        line: _choose(
            found, found.asked[line].query, ranked, at_home.get(line),
            {table: of_table.get(line) for table, of_table in own.items()},
        )
        for line, ranked in everything.items()
    }  # fmt: skip


def _ranked(found: Rankings, wanted: npt.NDArray[np.bool_]) -> dict[int, Ranked]:
    """The candidates wanted, query by query."""
    best = best_of(found, np.flatnonzero(wanted))
    if not len(best.rows):
        return {}
    sure = np.where(found.food[best.top] >= 0, probability(evidence(found, best)), 0.0)
    rows, belief, start = best.rows.tolist(), best.belief.tolist(), best.start.tolist()
    foods, top = found.food[best.rows].tolist(), best.top
    return {
        line: Ranked(rows[first:end], foods[first:end], belief[first:end], p, line, name)
        for line, name, first, end, p in zip(
            found.line[top].tolist(), found.name[top].tolist(), start, start[1:], sure.tolist(),
            strict=False,
        )
    }  # fmt: skip


def _accept_from(found: Rankings, ranked: Ranked) -> float:
    """The confidence from which the best of some candidates is accepted: lower where a known name
    is the whole line."""
    model, known = load_model(), found.settled[ranked.line] and ranked.name >= 0
    return model.accept_known if known else model.accept_from


def _best(found: Rankings, ranked: Ranked, lender: int = -1, *, apart: bool = False) -> Choice:
    return Choice(ranked.foods[0], ranked.sure, lender, ranked, _accept_from(found, ranked), apart)


def _choose(
    found: Rankings, query: Query, ranked: Ranked, at_home: Ranked | None,
    own: dict[str, Ranked | None],
) -> Choice:  # fmt: skip
    """The first table that is sure, in the person's order; else the surest answer."""
    index = found.index
    reference = None if at_home is None else _best(found, at_home)
    offers: list[Choice] = []
    for table, places in index.tables.items():
        if table == index.home:
            if reference is not None and reference.food >= 0:
                offers.append(reference)
        else:
            offers += _in_table(found, query, ranked, own[table], places, reference)
        surest = max(offers, key=lambda c: c.confidence, default=None)
        if surest is not None and surest.confidence >= surest.accept_from:
            return surest
    if offers:
        return max(offers, key=lambda c: c.confidence)
    shown = ranked if at_home is None else at_home
    return Choice(-1, 0.0, -1, shown, _accept_from(found, shown))


def _in_table(
    found: Rankings, query: Query, ranked: Ranked, own: Ranked | None,
    places: list[int], reference: Choice | None,
) -> list[Choice]:  # fmt: skip
    """What one table offers: the reference food's counterpart, and its own wording's best."""
    index = found.index
    macros = index.foods.macros
    lender = reference.food if reference is not None else -1
    top = own.rows[0] if own is not None else -1
    if own is not None and (
        reference is None or found.score[top] > found.score[reference.ranked.rows[0]]
    ):  # the line speaks this table's language
        best = _best(found, own, lender)
        alike = lender >= 0 and near(lender, best.food, macros)
        return [best if alike else best._replace(lender=-1)]
    out: list[Choice] = []
    if reference is not None and lender >= 0:
        other = counterpart(query, lender, index, places)
        if other >= 0:
            alike = near(lender, other, macros)
            accept = _accept_from(found, ranked)
            if _same_number(other, lender, index):  # the makers say it is the same food
                return [Choice(other, reference.confidence, lender, ranked, accept, not alike)]
            as_sure = reference.confidence
            if not alike or (
                index.home in index.tables and _less_said(query, lender, other, index)
            ):
                as_sure = min(APART, as_sure)
            out.append(Choice(other, as_sure, lender, ranked, accept, not alike))
    if own is not None:
        food = own.foods[0]
        apart = lender >= 0 and not near(lender, food, macros)
        fit = found.features[:, top]
        another = apart and fit[_STATE_NO] + fit[_KEPT] + fit[_COOKED] > 0
        best = _best(found, own, lender, apart=apart)
        if apart:
            best = best._replace(confidence=min(APART, best.confidence))
        whole = fit[_OWN_COVER] > 0.999  # it says all that the line names
        if not another and (not out or (whole and best.confidence > out[0].confidence)):
            out.append(best)
    return out


def _less_said(query: Query, lender: int, other: int, index: Index) -> bool:
    """Whether the line names the reference food by a word that the other table's food lacks:
    "self-raising" of flour. The reference food itself is the better answer then."""
    own, theirs = index.words_of(lender), index.words_of(other)
    return any(
        w in own and w not in theirs and w not in NEUTRAL and at not in query.said_states
        for at, w in enumerate(query.phrase)
    )


def _same_number(food: int, lender: int, index: Index) -> bool:
    """The makers gave both one number: FoodData Central cites SR's, SR Legacy keeps it."""
    foods = index.foods
    return foods.lenders[food] == foods.ids[lender] or (
        foods.sources[food] in HOMES and foods.codes[food] == foods.codes[lender]
    )


def counterpart(query: Query, lender: int, index: Index, places: list[int]) -> int:
    """The food of a table that is the reference food, -1 when none shares its words.

    One that the table's makers gave the same number comes first; else, of the foods that share the
    reference food's head or the line's last noun, one within the rule goes before one that is not,
    one whose state fits before one that contradicts, and then the likest in words.
    """
    foods = index.foods
    heads = index.table_heads[lender]
    said = tuple(dict.fromkeys((*query.phrase, *(w for w in query.rest if w not in query.noted))))
    known = index.words_of(lender)
    head = head_of(query, index)
    best: tuple[tuple[bool, bool, bool, float], int] | None = None
    first, end = places[0], places[-1] + 1
    asked = tuple(dict.fromkeys((*said, *sorted(known))))
    for at in index.foods_like(asked, COMPARED, (first, end)):
        if not foods.answers[at]:
            continue
        own = index.words_of(at)
        same_number = _same_number(at, lender, index)
        if not same_number and head not in own and not (heads and set(heads) <= own):
            continue
        fit = state_fit(query.states | foods.states[lender], foods.states[at])
        strange = fit.contradicted + fit.kept_unasked + fit.cooked_unasked
        alike = near(lender, at, foods.macros)
        if strange and not alike and not same_number:
            continue  # tinned for fresh, or cooked for raw: another food, and its values say so
        key = (
            same_number,
            alike,
            fit.contradicted < 0.5,
            index.alike(said, own, at) + index.alike(tuple(known), own, at),
        )
        if best is None or key > best[0]:
            best = key, at
    return best[1] if best is not None else -1
