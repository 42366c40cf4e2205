"""Stage 4, weigh: amount, unit and food → edible grams with low and high, and the basis used."""
