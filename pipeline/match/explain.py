"""``steelyard match --explain``: why this food and these grams, in plain words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from pipeline.match.confidence import Evidence, best_of, evidence
from pipeline.match.features import Features
from pipeline.match.model_file import load_model
from pipeline.match.rank import rank_all
from pipeline.match.tables import choose_all
from pipeline.resources import column_of

if TYPE_CHECKING:
    from pipeline.match.matcher import Matcher
    from pipeline.reading import Read


def explain_line(read: Read, matcher: Matcher, top: int = 5) -> str:
    """The candidates of a line with their features and weights, and how the grams came about.

    Args:
        read: the line after parse, match and weigh.
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
    means = column_of("match_features.csv", "feature", "meaning")
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
                    f"       {value * weight_of:+6.2f}  {means[feature]} "
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
