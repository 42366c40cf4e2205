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

from pipeline.match.confidence import evidence, probability
from pipeline.match.facets import NEUTRAL
from pipeline.match.index import HOMES, Index
from pipeline.match.model_file import load_model
from pipeline.match.near import near
from pipeline.match.query import Query
from pipeline.match.rank import Ranking, head_of
from pipeline.match.states import state_fit

#: How many foods of a table are compared with the reference food.
COMPARED = 25
#: Confidence that a preferred table's food is meant although its values lie apart from the
#: reference food's: never enough to be accepted unseen.
APART = 0.6


class Choice(NamedTuple):
    """The food that answers a query.

    Attributes:
        food: its position, -1 when no table has one.
        confidence: probability that its composition is right.
        lender: the reference food of the same concept, -1 when none or the food itself.
        ranking: the candidates it was chosen from.
        apart: the values of food and lender lie apart.
    """

    food: int
    confidence: float
    lender: int
    ranking: Ranking
    apart: bool = False


def choose(query: Query, ranking: Ranking, index: Index) -> Choice:
    """Choose the table and the food.

    Args:
        query: what was asked.
        ranking: all candidates of all tables; at least one.
        index: the tables in the person's order stand in ``index.tables``.
    """
    foods, home = index.foods, index.home
    if len(index.tables) == 1 and home in index.tables:
        return _of_home(query, ranking, index)
    at_home = _only(ranking, lambda food: food < 0 or foods.sources[food] == home)
    reference = _of_home(query, at_home, index) if at_home.candidates else None
    found: list[Choice] = []
    for table, places in index.tables.items():
        if table == home:
            if reference is not None and reference.food >= 0:
                found.append(reference)
        else:
            found += _in_table(query, ranking, index, table, places, reference)
        surest = max(found, key=lambda c: c.confidence, default=None)
        if surest is not None and surest.confidence >= accepted_from(surest.ranking):
            return surest
    if found:
        return max(found, key=lambda c: c.confidence)
    return Choice(-1, 0.0, -1, at_home if reference is not None else ranking)


def accepted_from(ranking: Ranking) -> float:
    """The confidence from which the best of a ranking is accepted."""
    model = load_model()
    return model.accept_known if ranking.known else model.accept_from


def _of_home(query: Query, ranking: Ranking, index: Index) -> Choice:
    top = ranking.candidates[0].food
    sure = probability(evidence(query, ranking, index)) if top >= 0 else 0.0
    return Choice(top, sure, -1, ranking)


def _only(ranking: Ranking, wanted: object) -> Ranking:
    assert callable(wanted)
    return Ranking(
        tuple(c for c in ranking.candidates if wanted(c.food)), ranking.content, ranking.leftover,
        ranking.settled,
    )  # fmt: skip


def _in_table(
    query: Query, ranking: Ranking, index: Index, table: str, places: list[int],
    reference: Choice | None,
) -> list[Choice]:  # fmt: skip
    """What one table offers: the reference food's counterpart, and its own wording's best."""
    foods = index.foods
    lender = reference.food if reference is not None else -1
    own = _only(
        ranking, lambda food: food >= 0 and foods.sources[food] == table and foods.answers[food]
    )
    top = own.candidates[0] if own.candidates else None
    sure = probability(evidence(query, own, index)) if top is not None else 0.0
    if top is not None and (
        reference is None or top.score > reference.ranking.candidates[0].score
    ):  # the line speaks this table's language
        return [Choice(top.food, sure, lender if _like(lender, top.food, index) else -1, own)]
    out: list[Choice] = []
    if reference is not None and lender >= 0:
        other = counterpart(query, lender, index, table, places)
        if other >= 0:
            alike = near(lender, other, foods.macros)
            if _same_number(other, lender, index):  # the makers say it is the same food
                return [Choice(other, reference.confidence, lender, ranking, not alike)]
            as_sure = reference.confidence
            if not alike or (
                index.home in index.tables and _less_said(query, lender, other, index)
            ):
                as_sure = min(APART, as_sure)
            out.append(Choice(other, as_sure, lender, ranking, not alike))
    if top is not None:
        apart = lender >= 0 and not near(lender, top.food, foods.macros)
        if apart:
            sure = min(APART, sure)
        fit = top.features
        another = apart and fit.state_no + fit.kept_unasked + fit.cooked_unasked > 0
        whole = fit.own_cover > 0.999  # it says all that the line names
        if not another and (not out or (whole and sure > out[0].confidence)):
            out.append(Choice(top.food, sure, lender, own, apart))
    return out


def _less_said(query: Query, lender: int, other: int, index: Index) -> bool:
    """Whether the line names the reference food by a word that the other table's food lacks:
    "self-raising" of flour. The reference food itself is the better answer then."""
    own, theirs = index.food_words[lender], index.food_words[other]
    return any(
        w in own and w not in theirs and w not in NEUTRAL and at not in query.said_states
        for at, w in enumerate(query.phrase)
    )


def _like(lender: int, food: int, index: Index) -> bool:
    return lender >= 0 and near(lender, food, index.foods.macros)


def _same_number(food: int, lender: int, index: Index) -> bool:
    """The makers gave both one number: FoodData Central cites SR's, SR Legacy keeps it."""
    foods = index.foods
    return foods.lenders[food] == foods.ids[lender] or (
        foods.sources[food] in HOMES and foods.codes[food] == foods.codes[lender]
    )


def counterpart(query: Query, lender: int, index: Index, table: str, places: list[int]) -> int:
    """The food of a table that is the reference food, -1 when none shares its words.

    One that the table's makers gave the same number comes first; else, of the foods that share the
    reference food's head or the line's last noun, one within the rule goes before one that is not,
    one whose state fits before one that contradicts, and then the likest in words.
    """
    foods = index.foods
    heads = index.table_heads[lender]
    said = tuple(dict.fromkeys((*query.phrase, *(w for w in query.rest if w not in query.noted))))
    known = index.food_words[lender]
    head = head_of(query, index)
    best: tuple[tuple[bool, bool, bool, float], int] | None = None
    first, end = places[0], places[-1] + 1
    asked = tuple(dict.fromkeys((*said, *sorted(known))))
    for at in index.foods_like(asked, COMPARED, (first, end)):
        if not foods.answers[at]:
            continue
        own = index.food_words[at]
        same_number = _same_number(at, lender, index)
        if not same_number and head not in own and not (heads and set(heads) <= own):
            continue
        fit = state_fit(query.states | foods.states[lender], foods.states[at], None, ())
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
