"""How sure we are that the best food is a right one: a small logistic model one can read.

The weights stand in ``shared/match_confidence.json`` with how they were fitted;
``benchmarks/fit_confidence.py`` fits them again. Every feature is about 0 to 1.
"""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from functools import cache

from pipeline.match.facets import NEUTRAL
from pipeline.match.foods import Floats
from pipeline.match.index import Index
from pipeline.match.query import Query
from pipeline.match.rank import Ranked, Ranking
from pipeline.resources import shared_path

FEATURES = (
    "right_mass",  # share of belief held by the best food and foods that equal it in macros
    "margin",  # lead over the best food that differs in macros
    "name_cover",
    "word_cover",
    "whole_name",
    "head",
    "leftover",  # weight of words that the food does not explain
    "leftover_food",  # one of them names a food itself
    "mended",
    "unread",
    "state_no",
    "by_description",  # found by the table's description only
    "extra",
    "fat_off",
    "single_word",
    "own_words",  # share of the phrase that the table's own name of the food says
    "stand_in",  # the names table calls the food a stand-in
    "varies",  # the name covers products that differ
    "state_open",  # the default state is a guess and the line says none
)

#: How near two foods must be to count as the same answer (per 100 g): 10 % or 8 kcal of energy,
#: 15 % or 1 g of protein. Common practice in dietary coding; no published source.
ENERGY_SHARE, ENERGY_KCAL, PROTEIN_SHARE, PROTEIN_G = 0.10, 8.0, 0.15, 1.0

TEMPERATURE = 1.5


@dataclass(frozen=True, slots=True)
class Model:
    """Weights by feature, intercept, and the confidence from which a food is accepted."""

    weights: dict[str, float]
    intercept: float
    accept_from: float

    def probability(self, values: dict[str, float]) -> float:
        """Probability that the food is right."""
        z = self.intercept + sum(w * values.get(k, 0.0) for k, w in self.weights.items())
        return 1.0 / (1.0 + math.exp(-max(-30.0, min(30.0, z))))


@cache
def load_model() -> Model:
    """The fitted model of ``shared/match_confidence.json``."""
    raw = json.loads(shared_path("match_confidence.json").read_text(encoding="utf-8"))
    return Model(raw["weights"], raw["intercept"], raw["accept_from"])


def near(a: int, b: int, macros: Floats) -> bool:
    """True when two foods are the same answer as far as energy and protein go."""
    if a == b:
        return True
    if a < 0 or b < 0:
        return False
    kcal_a, kcal_b = float(macros[a, 0]), float(macros[b, 0])
    protein_a, protein_b = float(macros[a, 1]), float(macros[b, 1])
    if not all(map(math.isfinite, (kcal_a, kcal_b, protein_a, protein_b))):
        return False
    return abs(kcal_a - kcal_b) <= max(ENERGY_SHARE * kcal_a, ENERGY_KCAL) and abs(
        protein_a - protein_b
    ) <= max(PROTEIN_SHARE * protein_a, PROTEIN_G)


def beliefs(candidates: tuple[Ranked, ...]) -> list[float]:
    """Share of belief of each candidate: a softmax over the scores."""
    top = candidates[0].score
    raw = [math.exp((c.score - top) / TEMPERATURE) for c in candidates]
    total = sum(raw)
    return [r / total for r in raw]


def confidence_features(query: Query, ranking: Ranking, index: Index) -> dict[str, float]:
    """The features of the model for the best candidate of a ranking."""
    candidates = ranking.candidates
    top = candidates[0]
    macros = index.foods.macros
    belief = beliefs(candidates)
    same = [near(top.food, c.food, macros) for c in candidates]
    other = next((c.score for c, s in zip(candidates, same, strict=True) if not s), None)
    margin = 1.0 if other is None else min(1.0, max(0.0, (top.score - other) / 6.0))
    total = sum(index.word_weight(query.phrase[at]) for at in ranking.content) or 1.0
    left = sum(index.word_weight(w) for w in ranking.leftover) / total
    fs = top.features
    own = index.food_words[top.food]
    own_words = sum(
        index.word_weight(query.phrase[at])
        for at in ranking.content
        if query.phrase[at] in own or at in query.said_states
    )
    doubt = top.sense.doubt if top.sense is not None else ""
    return {
        "right_mass": sum(b for b, s in zip(belief, same, strict=True) if s),
        "margin": margin,
        "name_cover": fs.name_cover,
        "word_cover": fs.word_cover,
        "whole_name": fs.whole_name,
        "head": fs.head,
        "leftover": min(1.0, left),
        "leftover_food": float(
            any((w,) in index.names and w not in NEUTRAL for w in ranking.leftover)
        ),
        "mended": float(bool(query.mended)),
        "unread": float(bool(query.unread)),
        "state_no": min(1.0, fs.state_no),
        "by_description": float(top.span is None),
        "extra": min(1.0, fs.extra / 3.0),
        "fat_off": min(1.0, fs.fat_off),
        "single_word": float(len(ranking.content) == 1),
        "own_words": own_words / total,
        "stand_in": float(doubt == "stand_in"),
        "varies": float(doubt == "varies" and query.fat_pct is None),
        "state_open": float(doubt == "state" and fs.state_yes == 0),
    }
