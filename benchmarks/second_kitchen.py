"""Foods that the stage of habits was not built with: its second kitchen.

None of them stands in ``invented.INGREDIENTS``. Codes are USDA SR28 food numbers, chosen from the
descriptions as a creator would understand the words, before any of them was run. Its first run was
blind; then its misses were looked at and mended, so that it is in-sample since.
"""

from __future__ import annotations

from invented_habits import Pool

#: As ``invented.INGREDIENTS``: code, words, role, unit, grams of one, least and most units a serving.
_INGREDIENTS = (
    ("20035", "uncooked quinoa", "base", "g", 1, 45, 80),
    ("20012", "dry bulgur", "base", "g", 1, 45, 85),
    ("20005", "uncooked pearl barley", "base", "g", 1, 40, 80),
    ("20133", "dry rice noodles", "base", "g", 1, 50, 90),
    ("20125", "cooked whole-wheat pasta", "base", "g", 1, 120, 220),
    ("20081", "plain flour", "base", "g", 1, 40, 90),
    ("18041", "white pita bread", "base", "piece", 60, 1, 2),
    ("18060", "slices rye bread", "base", "piece", 32, 2, 3),
    ("16069", "dried brown lentils", "pulse", "g", 1, 40, 80),
    ("16070", "cooked lentils", "pulse", "g", 1, 80, 160),
    ("16057", "cooked chickpeas", "pulse", "g", 1, 80, 160),
    ("16014", "dried black beans", "pulse", "g", 1, 40, 80),
    ("16015", "cooked black beans", "pulse", "g", 1, 80, 160),
    ("16126", "firm tofu", "protein", "g", 1, 80, 150),
    ("23562", "90 % lean beef mince", "protein", "g", 1, 90, 150),
    ("10060", "pork tenderloin, raw", "protein", "g", 1, 100, 170),
    ("05062", "skinless chicken breast, raw", "protein", "g", 1, 110, 190),
    ("15015", "cod fillet, raw", "protein", "g", 1, 110, 180),
    ("15033", "haddock fillet, raw", "protein", "g", 1, 110, 180),
    ("15046", "mackerel fillet, raw", "protein", "g", 1, 80, 140),
    ("15076", "salmon fillet, raw", "protein", "g", 1, 100, 170),
    ("15270", "raw prawns", "protein", "g", 1, 80, 150),
    ("05710", "turkey breast, raw", "protein", "g", 1, 100, 170),
    ("01077", "whole milk", "dairy", "ml", 1.03, 60, 200),
    ("01116", "whole-milk yogurt", "dairy", "g", 1, 60, 180),
    ("01009", "cheddar", "dairy", "g", 1, 20, 60),
    ("01033", "parmesan", "dairy", "g", 1, 10, 30),
    ("01017", "cream cheese", "dairy", "g", 1, 25, 60),
    ("01159", "soft goat's cheese", "dairy", "g", 1, 25, 60),
    ("01056", "sour cream", "dairy", "g", 1, 25, 60),
    ("04506", "sunflower oil", "fat", "tbsp", 13.6, 0.5, 1.5),
    ("04047", "coconut oil", "fat", "tbsp", 13.6, 0.5, 1.5),
    ("04058", "sesame oil", "fat", "tbsp", 13.6, 0.3, 1),
    ("04025", "mayonnaise", "fat", "tbsp", 13.8, 0.5, 2),
    ("12195", "almond butter", "fat", "tbsp", 16, 0.5, 2),
    ("12142", "pecans", "nuts", "g", 1, 10, 30),
    ("12120", "hazelnuts", "nuts", "g", 1, 10, 30),
    ("12151", "pistachios", "nuts", "g", 1, 10, 30),
    ("12036", "sunflower seeds", "nuts", "g", 1, 10, 30),
    ("19334", "brown sugar", "sweet", "g", 1, 5, 25),
    ("19297", "jam", "sweet", "tbsp", 20, 0.3, 1.5),
    ("19304", "molasses", "sweet", "tbsp", 20, 0.3, 1),
    ("09032", "dried apricots", "sweet", "g", 1, 15, 50),
    ("11485", "butternut squash", "veg", "g", 1, 80, 200),
    ("11477", "courgette", "veg", "g", 1, 60, 150),
    ("11260", "white mushrooms", "veg", "g", 1, 50, 120),
    ("11457", "spinach", "veg", "g", 1, 30, 100),
    ("11109", "white cabbage", "veg", "g", 1, 60, 150),
    ("11246", "leeks", "veg", "g", 1, 50, 120),
    ("11084", "tinned beetroot, drained", "veg", "g", 1, 50, 120),
    ("11052", "green beans", "veg", "g", 1, 50, 120),
    ("11531", "tinned tomatoes", "veg", "g", 1, 80, 200),
    ("09252", "medium pear", "fruit", "piece", 178, 0.3, 1),
    ("09200", "medium orange", "fruit", "piece", 131, 0.3, 1),
    ("09176", "mango", "fruit", "g", 1, 50, 150),
    ("09316", "strawberries", "fruit", "g", 1, 50, 150),
    ("09302", "raspberries", "fruit", "g", 1, 30, 100),
    ("11143", "celery", "small", "g", 1, 10, 40),
    ("02069", "balsamic vinegar", "small", "tbsp", 16, 0.3, 1),
    ("02046", "yellow mustard", "small", "tsp", 5, 0.3, 1.5),
    ("11216", "fresh ginger", "small", "g", 1, 2, 8),
    ("02028", "paprika", "small", "tsp", 2.3, 0.2, 0.7),
    ("02010", "ground cinnamon", "small", "tsp", 2.6, 0.2, 0.6),
)
_ALTERNATES = (
    ("20035", "raw_cooked_slip", "20137"), ("20012", "raw_cooked_slip", "20013"),
    ("20005", "raw_cooked_slip", "20006"), ("20133", "raw_cooked_slip", "20134"),
    ("20125", "raw_cooked_slip", "20124"), ("16069", "raw_cooked_slip", "16070"),
    ("16070", "raw_cooked_slip", "16069"), ("16057", "raw_cooked_slip", "16056"),
    ("16014", "raw_cooked_slip", "16015"), ("16015", "raw_cooked_slip", "16014"),
    ("15015", "raw_cooked_slip", "15016"), ("15033", "raw_cooked_slip", "15034"),
    ("15046", "raw_cooked_slip", "15047"), ("15270", "raw_cooked_slip", "15271"),
    ("23562", "product_variant", "23557"), ("23562", "product_variant", "23572"),
    ("05062", "product_variant", "05057"), ("01077", "product_variant", "01085"),
    ("01116", "product_variant", "01118"), ("01009", "product_variant", "01260"),
    ("01017", "product_variant", "43274"), ("01056", "product_variant", "01055"),
    ("04025", "product_variant", "04641"), ("19297", "product_variant", "43344"),
    ("18041", "product_variant", "18042"),
)  # fmt: skip
#: Words that name several kinds: wild or farmed, Pacific or Atlantic.
_KINDS = (("15076", "15236"), ("15015", "15268"), ("15046", "15050"))

SECOND = Pool(_INGREDIENTS, _ALTERNATES, _KINDS)
