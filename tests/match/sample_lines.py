"""Lines made of foods, states, containers and remarks, for property tests; all are our own."""

from __future__ import annotations

from hypothesis import strategies as st

FOODS = (
    "chicken breast", "chickpeas", "plain flour", "greek yoghurt", "tomatoes", "olive oil", "salmon",
    "sweet potato", "cheddar", "red lentils", "spinach", "coconut milk", "brocolli", "tuna",
    "leg of lamb", "artichoke hearts", "peas", "gluten-free oats", "peaches", "skarrow root",
    "cheese, cottage, lowfat", "sardines", "black pepper", "quinoa", "70% dark chocolate",
)  # fmt: skip
STATES = ("", "cooked", "canned", "frozen", "dried", "raw", "fresh", "smoked", "low-fat")
AMOUNTS = ("100 g", "1 tin", "1 jar", "2 tbsp", "3", "1 bunch", "")
NOTES = (
    "",
    ", chopped",
    ", drained and rinsed",
    " (optional)",
    ", in oil",
    ", plus extra to serve",
)

lines = st.builds(
    lambda amount, state, food, note: f"{amount} {state} {food}".strip() + note,
    st.sampled_from(AMOUNTS), st.sampled_from(STATES), st.sampled_from(FOODS),
    st.sampled_from(NOTES),
)  # fmt: skip
