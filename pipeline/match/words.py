"""Words of food names: see :mod:`pipeline.foods.words`, where the functions live."""

from __future__ import annotations

from pipeline.foods.words import fold, singular, words

__all__ = ["fold", "singular", "words"]
