"""Foods of the blind half of ``habits.py``, run once after everything was built and never looked at.

None of them stands in ``invented.INGREDIENTS`` or ``second_kitchen``. Codes are USDA SR28 food
numbers, chosen from the descriptions as a creator would understand the words.
"""

from __future__ import annotations

from invented_habits import Pool

#: As ``invented.INGREDIENTS``: code, words, role, unit, grams of one, least and most units a serving.
_INGREDIENTS = (
    ("20124", "dry whole-wheat pasta", "base", "g", 1, 60, 110),
    ("20134", "cooked rice noodles", "base", "g", 1, 120, 220),
    ("20013", "cooked bulgur", "base", "g", 1, 120, 200),
    ("20006", "cooked pearl barley", "base", "g", 1, 120, 200),
    ("11355", "red potatoes", "base", "g", 1, 150, 300),
    ("18001", "plain bagels", "base", "piece", 105, 0.5, 1),
    ("18042", "whole-wheat pita bread", "base", "piece", 64, 1, 2),
    ("16056", "dried chickpeas", "pulse", "g", 1, 40, 80),
    ("16358", "tinned chickpeas, drained", "pulse", "g", 1, 80, 150),
    ("16086", "cooked split peas", "pulse", "g", 1, 80, 160),
    ("16050", "cooked white beans", "pulse", "g", 1, 80, 160),
    ("16127", "soft tofu", "protein", "g", 1, 80, 160),
    ("23557", "95 % lean beef mince", "protein", "g", 1, 90, 150),
    ("05057", "chicken breast with skin, raw", "protein", "g", 1, 110, 190),
    ("15039", "herring fillet, raw", "protein", "g", 1, 80, 140),
    ("15088", "sardines in oil, drained", "protein", "g", 1, 50, 100),
    ("15034", "cooked haddock", "protein", "g", 1, 100, 160),
    ("01124", "egg whites", "protein", "g", 1, 60, 150),
    ("01085", "skimmed milk", "dairy", "ml", 1.03, 60, 200),
    ("01118", "fat-free plain yogurt", "dairy", "g", 1, 60, 180),
    ("01157", "semisoft goat's cheese", "dairy", "g", 1, 25, 60),
    ("01032", "grated parmesan", "dairy", "g", 1, 8, 25),
    ("43274", "low-fat cream cheese", "dairy", "g", 1, 25, 60),
    ("01055", "reduced-fat sour cream", "dairy", "g", 1, 25, 60),
    ("04641", "light mayonnaise", "fat", "tbsp", 15, 0.5, 2),
    ("12040", "sunflower seed butter", "fat", "tbsp", 16, 0.5, 2),
    ("01001", "salted butter", "fat", "tbsp", 14.2, 0.5, 1.5),
    ("04044", "soybean oil", "fat", "tbsp", 13.6, 0.5, 1.5),
    ("12121", "blanched hazelnuts", "nuts", "g", 1, 10, 30),
    ("12152", "dry roasted pistachios, unsalted", "nuts", "g", 1, 10, 30),
    ("12143", "dry roasted pecans, unsalted", "nuts", "g", 1, 10, 30),
    ("09291", "prunes", "sweet", "piece", 9.5, 1, 4),
    ("19719", "apricot jam", "sweet", "tbsp", 20, 0.3, 1.5),
    ("09259", "dried pears", "sweet", "g", 1, 15, 50),
    ("11482", "acorn squash", "veg", "g", 1, 80, 200),
    ("11112", "red cabbage", "veg", "g", 1, 60, 150),
    ("11266", "brown mushrooms", "veg", "g", 1, 50, 120),
    ("11463", "frozen spinach", "veg", "g", 1, 50, 120),
    ("11080", "raw beetroot", "veg", "g", 1, 50, 120),
    ("11060", "frozen green beans", "veg", "g", 1, 50, 120),
    ("11547", "tomato puree, tinned", "veg", "g", 1, 60, 150),
    ("09266", "fresh pineapple", "fruit", "g", 1, 50, 150),
    ("09279", "plums", "fruit", "piece", 66, 1, 3),
    ("09132", "grapes", "fruit", "g", 1, 50, 150),
    ("09254", "tinned pears in juice", "fruit", "g", 1, 50, 150),
    ("11549", "tomato sauce", "small", "tbsp", 15, 0.5, 2),
    ("02015", "curry powder", "small", "tsp", 2, 0.2, 0.8),
    ("02009", "chilli powder", "small", "tsp", 2.7, 0.2, 0.6),
    ("02030", "ground black pepper", "small", "tsp", 2.3, 0.1, 0.5),
)
_ALTERNATES = (
    ("20124", "raw_cooked_slip", "20125"), ("20134", "raw_cooked_slip", "20133"),
    ("20013", "raw_cooked_slip", "20012"), ("20006", "raw_cooked_slip", "20005"),
    ("16056", "raw_cooked_slip", "16057"), ("16358", "raw_cooked_slip", "16056"),
    ("16050", "raw_cooked_slip", "16049"), ("15039", "raw_cooked_slip", "15040"),
    ("23557", "product_variant", "23567"), ("05057", "product_variant", "05062"),
    ("01085", "product_variant", "01077"), ("01118", "product_variant", "01116"),
    ("43274", "product_variant", "01017"), ("01055", "product_variant", "01056"),
    ("04641", "product_variant", "04025"), ("09254", "product_variant", "09257"),
    ("18042", "product_variant", "18041"), ("19719", "product_variant", "43344"),
)  # fmt: skip
#: Words that name several kinds.
_KINDS = (("15039", "15043"), ("16358", "16359"))

THIRD = Pool(_INGREDIENTS, _ALTERNATES, _KINDS)
