"""``steelyard match --explain``: why this food and these grams, in plain words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from pipeline.match.confidence import Evidence, best_of, evidence
from pipeline.match.features import Features
from pipeline.match.model_file import load_model
from pipeline.match.rank import rank_all
from pipeline.match.tables import choose_all

if TYPE_CHECKING:
    from pipeline.match.matcher import Matcher
    from pipeline.reading import Read

#: What each feature says, for people.
_MEANS = {
    "name_cover": "a name of it covers the line",
    "name_said": "the line says all of that name",
    "whole_name": "the name is all the line says",
    "name_unsaid": "telling words of the name that the line does not say",
    "name_missing": "telling words of the line that the name does not hold",
    "name_head": "named by the last noun",
    "after_head": "words after the name",
    "word_cover": "its words cover the line",
    "own_cover": "the table's own words cover the line",
    "own_head": "the last noun stands in the table's words",
    "table_head": "the table's head words are said",
    "alike": "line and description are alike as a whole",
    "verbatim": "the line is the description",
    "unsaid_head": "head words that cooks would say",
    "unsaid": "words that cooks would say",
    "unexplained": "words of the line it does not explain",
    "rest_missing": "telling words anywhere on the line that it does not explain",
    "usual": "cooks have many names for it",
    "state_yes": "states that fit",
    "state_no": "states that contradict",
    "state_open": "states it does not answer",
    "cooked_unasked": "cooked, and nobody said so",
    "kept_unasked": "dried, canned or juice, and nobody said so",
    "kind_unasked": "a kind nobody asked for",
    "default": "ordinary meaning of the name",
    "fat_off": "away from the fat asked for",
    "survey": "used in the dietary survey",
    "brand": "a brand nobody asked for",
    "by_name": "proposed by a name",
    "lacking": "known to be lacking",
    "lacking_said": "the line says the lacking food's name",
}


def explain_line(read: Read, matcher: Matcher, top: int = 5) -> str:
    """The candidates of a line with their features and weights, and how the grams came about.

    Args:
        read: the line after parse, match and weigh.
        matcher: the one that chose the food.
        top: how many candidates to show.
    """
    parsed, chosen, weight = read.parsed, read.match, read.weight
    out = [f'"{parsed.text}"']
    said = [f'food name "{parsed.name}"'] if parsed.name else ["no food name"]
    if parsed.states:
        said.append("states " + ", ".join(sorted(parsed.states)))
    if parsed.fat_pct is not None:
        said.append(f"fat {parsed.fat_pct:g} %")
    if parsed.notes:
        said.append(f'notes "{parsed.notes}"')
    out.append("  read as:  " + "; ".join(said))
    out.append(f"  food:     {chosen.food_id or 'none'} {chosen.description} ({chosen.status})")
    out.append(f"  because:  {chosen.reason}")
    out.append(f"  grams:    {weight.reason}")
    if parsed.kind != "food" or chosen.origin in {"decision", "pantry"}:
        return "\n".join(out)
    found = rank_all([matcher.query(parsed)], matcher.index)
    choice = choose_all(found).get(0)
    if choice is None:
        return "\n".join(out)
    foods, model = matcher.index.foods, load_model()
    rows = choice.ranked.rows
    for place, row in enumerate(rows[:top], start=1):
        at = int(found.food[row])
        name = f"{foods.ids[at]} {foods.descriptions[at]}" if at >= 0 else "a food the table lacks"
        out.append(
            f"  {place}. {name}: score {found.score[row]:.2f},"
            f" belief {choice.ranked.belief[place - 1]:.0%}"
        )
        values = found.features[:, row]
        for feature, value, weight_of in zip(Features._fields, values, model.rank, strict=True):
            if value:
                out.append(
                    f"       {value * weight_of:+6.2f}  {_MEANS[feature]} "
                    f"({value:.2f} x {weight_of:g})"
                )
    if found.food[rows[0]] >= 0:
        values = evidence(found, best_of(found, np.array(rows)))[0]
        out.append(
            f"  confidence {chosen.confidence:.2f}, accepted from {choice.accept_from:.2f}: "
            + ", ".join(
                f"{name} {value:.2f} x {weight_of:g}"
                for name, value, weight_of in zip(
                    Evidence._fields, values, model.confidence, strict=True
                )
                if value
            )
        )
    return "\n".join(out)
