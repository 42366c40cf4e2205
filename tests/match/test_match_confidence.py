"""How sure a match is: a probability, and never surer for worse evidence."""

from __future__ import annotations

import numpy as np
import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from sample_lines import lines

from pipeline.lines import parse, parse_many
from pipeline.match.confidence import STOOD_IN, Evidence, best_of, evidence, probability
from pipeline.match.index import Index
from pipeline.match.matcher import Matcher
from pipeline.match.near import near, near_each
from pipeline.match.query import query_of
from pipeline.match.rank import rank_all

shares = st.floats(0, 1)
#: What can only speak against a food, and what only for it.
AGAINST = (
    "spread",
    "name_missing",
    "state_no",
    "unexplained",
    "leftover_food",
    "fat_off",
    "unread",
)
IN_FAVOUR = ("right_mass", "margin", "head", "name_cover")
#: Evidence is about 0 to 1: a food with very many names is a little more than usual.
MOST = 1.1
energies = st.lists(
    st.tuples(st.floats(0, 900) | st.just(float("nan")), st.floats(0, 90)), min_size=2, max_size=6
)


@settings(max_examples=examples(20))
@given(texts=st.lists(lines, min_size=1, max_size=8, unique=True))
def test_belief_is_shared_out_and_confidence_a_probability(index: Index, texts: list[str]) -> None:
    found = rank_all([query_of(line, index) for line in parse_many(texts)], index)
    best = best_of(found, np.arange(len(found.line)))
    for first, end in zip(best.start, best.start[1:], strict=False):
        assert best.belief[first:end].sum() == pytest.approx(1)
        assert best.belief[first] == best.belief[first:end].max()
    values = evidence(found, best)[found.food[best.top] >= 0]  # of a lacking food it means nothing
    assert (np.isfinite(values) & (values >= 0) & (values <= MOST)).all()
    sure = probability(values)
    assert ((sure >= 0) & (sure <= 1)).all()
    for match in Matcher(index).match(parse_many(texts)):
        assert 0 <= match.confidence <= 1
        assert all(0 <= c.probability <= 1 for c in (*match.runners_up, *match.open_kinds))


@given(
    values=st.lists(shares, min_size=len(Evidence._fields), max_size=len(Evidence._fields)),
    name=st.sampled_from((*AGAINST, *IN_FAVOUR)), more=shares,
)  # fmt: skip
def test_confidence_moves_the_way_its_evidence_points(
    values: list[float], name: str, more: float
) -> None:
    at = Evidence._fields.index(name)
    other = [*values]
    other[at] = min(1.0, values[at] + more)
    before, after = probability(np.array([values, other]))
    assert after >= before if name in IN_FAVOUR else after <= before


@given(values=st.lists(shares, min_size=len(Evidence._fields), max_size=len(Evidence._fields)))
def test_a_stand_in_is_always_asked(values: list[float]) -> None:
    values[Evidence._fields.index("stand_in")] = 1.0
    assert probability(np.array([values]))[0] <= STOOD_IN


@given(rows=energies)
def test_being_the_same_answer_is_mutual(rows: list[tuple[float, float]]) -> None:
    macros = np.array([[kcal, protein, 0.0, 0.0] for kcal, protein in rows])
    a, b = (
        grid.ravel() for grid in np.meshgrid(np.arange(-1, len(rows)), np.arange(-1, len(rows)))
    )
    each = near_each(a, b, macros)
    for one, other, alike in zip(a.tolist(), b.tolist(), each.tolist(), strict=True):
        if one != other:
            assert near(one, other, macros) is alike
        if one == other >= 0:
            assert near(one, other, macros)


@pytest.mark.parametrize("text", ["1 jar artichoke hearts", "1 can artichoke hearts, drained"])
def test_a_frozen_food_out_of_a_tin_is_asked(index: Index, text: str) -> None:
    matcher = Matcher(index)
    match = matcher.match_one(parse(text))
    assert match.status == "to review"
    assert match.confidence <= STOOD_IN
    assert "tin or a jar" in match.reason
    frozen = matcher.match_one(parse("200 g frozen artichoke hearts"))
    assert frozen.food_id == match.food_id
    assert frozen.status == "accepted"


@pytest.mark.parametrize(
    "text", ["1 tin sweetcorn", "1 jar beetroot", "1 tin peaches", "1 tin lentils", "1 jar honey"]
)
def test_what_the_table_has_out_of_a_tin_is_taken(index: Index, text: str) -> None:
    assert Matcher(index).match_one(parse(text)).status == "accepted"
