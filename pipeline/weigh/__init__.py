"""Stage 4, weigh: amount, unit and food → edible grams with low and high, and the basis used."""

from pipeline.weigh.model import Basis, Weight
from pipeline.weigh.weigher import Weigher

__all__ = ["Basis", "Weigher", "Weight"]
