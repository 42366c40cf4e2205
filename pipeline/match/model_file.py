"""The fitted weights of ranking and confidence: ``shared/match_model.json``.

``benchmarks/fit_match.py`` fits them; the file says how, on what, and what was held out.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache

from pipeline.resources import shared_path


@dataclass(frozen=True, slots=True)
class Model:
    """Weights by place of the features they belong to.

    Attributes:
        rank: of ``rank.Features``.
        temperature: by which scores become shares of belief.
        confidence: of ``confidence.Evidence``.
        intercept: of the confidence.
        accept_from: confidence from which a food is accepted.
        accept_known: the same where a name of the words files is the whole line.
    """

    rank: tuple[float, ...]
    temperature: float
    confidence: tuple[float, ...]
    intercept: float
    accept_from: float
    accept_known: float


@cache
def load_model() -> Model:
    """Read the file once."""
    raw = json.loads(shared_path("match_model.json").read_text(encoding="utf-8"))
    return Model(
        tuple(raw["rank"].values()), raw["temperature"], tuple(raw["confidence"].values()), raw["intercept"],
        raw["accept_from"], raw["accept_known"],
    )  # fmt: skip
