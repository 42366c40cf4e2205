"""Grams times composition: totals of every recipe, their spread, and what they rest on."""

from pipeline.compute.convention import TABLE, Convention
from pipeline.compute.cooking import (
    alcohol_kept,
    cooked_per_100g,
    raw_to_cooked,
)
from pipeline.compute.servings import settle_servings
from pipeline.compute.totals import Computation, compute

__all__ = [
    "TABLE",
    "Computation",
    "Convention",
    "alcohol_kept",
    "compute",
    "cooked_per_100g",
    "raw_to_cooked",
    "settle_servings",
]
