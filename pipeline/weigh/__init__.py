"""Stage 4, weigh: amount, unit and food → edible grams with low and high, and the basis used."""

from pipeline.weigh.weigher import Weigher
from pipeline.weigh.weight import Basis, Weight

__all__ = ["Basis", "Weigher", "Weight"]
