"""State by use: what goes in without cooking time is cooked, what is rinsed from a tin is drained."""

from __future__ import annotations

import pytest

STATES = [
    ("2 cups black beans\n200 g tomatoes", "", "2 cups black beans", True),  # no liquid
    ("2 cups black beans\n1.5 litres water", "", "2 cups black beans", False),
    ("2 cups dried black beans\n200 g tomatoes", "", "2 cups dried black beans", False),
    ("400 g black beans\n200 g tomatoes", "", "400 g black beans", False),  # weighed: as said
    ("1 cup lentils\n200 g tomatoes", "", "1 cup lentils", False),  # cook in no time
    ("1 cup lentils", "Toss the lentils with the dressing.", "1 cup lentils", True),
    ("1 cup lentils", "Simmer the lentils until tender.", "1 cup lentils", False),
    ("2 cups rice", "Stir the rice into the pan and warm through.", "2 cups rice", True),
    ("2 cups rice", "Cook the rice as the packet says. Stir in the rest.", "2 cups rice", False),
    ("2 cups rice", "", "2 cups rice", False),
    ("2 cups penne", "Add the penne to the soup and boil for 10 minutes.", "2 cups penne", False),
    ("2 cups penne", "Fold in the penne and serve cold.", "2 cups penne", True),
    ("2 cups flour", "Add the flour and mix.", "2 cups flour", False),  # takes up no water
]  # fmt: skip
#: Cards that stand alone, for one run over all of them.
TOGETHER = [(lines, method) for lines, method, *_ in STATES]


@pytest.mark.parametrize(("lines", "method", "line", "cooked_food"), STATES)
def test_use_tells_the_state(cooked_together, lines, method, line, cooked_food):
    _, found = cooked_together(lines, method)
    row = found.loc[line]
    assert ("cooked" in row["description"].lower()) == cooked_food
    assert ("read as cooked" in row["reason"]) == cooked_food


def test_a_fried_rice_is_made_of_cooked_rice(cooked):
    _, found = cooked("4 cups rice\n3 eggs", title="Mill pond fried rice")
    assert "cooked" in found.loc["4 cups rice", "description"]


def test_rinsed_from_a_tin_is_drained(cooked):
    _, found = cooked("1 can corn, rinsed\n1 can corn")
    rinsed, plain = found.loc["1 can corn, rinsed"], found.loc["1 can corn"]
    assert rinsed["grams"] <= plain["grams"]
    assert "drained" in rinsed["reason"] + rinsed["weigh_reason"]
