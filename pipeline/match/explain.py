"""``steelyard match --explain``: why this food and these grams, in plain words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipeline.match.confidence import beliefs, confidence_features
from pipeline.match.rank import WEIGHTS

if TYPE_CHECKING:
    from pipeline.match.matcher import Matcher
    from pipeline.run import Read

#: What each feature says, for people.
_MEANS = {
    "name_cover": "a name of it covers the phrase",
    "word_cover": "its words cover the phrase",
    "head": "named by the last noun",
    "table_head": "the table's head words are said",
    "whole_name": "the name is the whole phrase",
    "extra": "words nobody asked for",
    "after_head": "words after the name",
    "state_yes": "states that fit",
    "state_no": "states that contradict",
    "default": "ordinary meaning of the name",
    "fat_off": "away from the fat asked for",
    "survey": "used in the dietary survey",
    "brand": "a brand nobody asked for",
    "lacking": "known to be lacking",
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
    query = matcher.query(parsed)
    found = matcher.find(query)
    if found is None:
        return "\n".join(out)
    foods = matcher.index.foods
    belief = beliefs(found.ranking.candidates)
    for place, (candidate, share) in enumerate(
        zip(found.ranking.candidates[:top], belief, strict=False), start=1
    ):
        at = candidate.food
        name = f"{foods.ids[at]} {foods.descriptions[at]}" if at >= 0 else "a food the table lacks"
        out.append(f"  {place}. {name}: score {candidate.score:.2f}, belief {share:.0%}")
        for feature, value in candidate.features._asdict().items():
            if value:
                weight_of = WEIGHTS[feature]
                out.append(
                    f"       {value * weight_of:+6.2f}  {_MEANS[feature]} "
                    f"({value:.2f} x {weight_of:g})"
                )
    if found.ranking.candidates[0].food >= 0:
        values = confidence_features(query, found.ranking, matcher.index)
        model = matcher.model
        out.append(
            f"  confidence {chosen.confidence:.2f}, accepted from {model.accept_from:.2f}: "
            + ", ".join(
                f"{k} {values[k]:.2f} x {w:g}" for k, w in model.weights.items() if values[k] and w
            )
        )
    return "\n".join(out)
