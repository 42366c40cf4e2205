"""Grams times composition: totals of every recipe, their spread, and what they rest on."""

from pipeline.compute.convention import TABLE, Convention
from pipeline.compute.servings import settle_servings
from pipeline.compute.totals import Computation, compute

__all__ = [
    "TABLE",
    "Computation",
    "Convention",
    "compute",
    "settle_servings",
]
