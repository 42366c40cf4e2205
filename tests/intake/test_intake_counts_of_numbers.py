"""Stated numbers of several pieces, and of the whole beside one part of it."""

import math
from pathlib import Path

import pytest
from cases import cases

from pipeline.intake import read_collection
from pipeline.intake.facts_line import find_facts
from pipeline.intake.stated_line import read_stated_line

KCAL, P, C, F = "ENERC_KCAL", "PROCNT", "CHOCDF", "FAT"
LIST = "200 g oats\n100 g honey\n50 g peanut butter\n295 g soy yogurt\n"


def read(tmp_path: Path, text: str):
    """The first recipe of a card: its row, its lines, its stated numbers by nutrient."""
    (tmp_path / "card.txt").write_text(text)
    found = read_collection(tmp_path)
    row = found.recipe.iloc[0]
    mine = found.stated[found.stated["recipe_id"] == row["recipe_id"]]
    stated = {s.nutrient: (s.amount, s.basis) for s in mine.itertuples()}
    return row, list(found.line.loc[found.line["recipe_id"] == row["recipe_id"], "text"]), stated


@pytest.mark.parametrize(("text", "size"), cases(__file__, "what_leads_numbers"))
def test_what_leads_numbers_is_what_they_are_for(text: str, size: str) -> None:
    line = read_stated_line(text)
    assert (line.basis, line.size) == ("per_serving", size)
    assert line.certain


@pytest.mark.parametrize("text", ["2 eggs: 154 kcal", "3 bananas = 315 kcal", "2 tins: 400 g"])
def test_several_of_a_food_may_be_an_ingredient(text: str) -> None:
    assert not read_stated_line(text).certain


@pytest.mark.parametrize(
    ("made", "text", "servings"),
    [
        ("Oat slices\nMakes 10 slices", "2 slices: 256 kcal", 5),
        ("Oat muffins\nMakes 12 muffins", "3 muffins: 756 kcal", 4),  # also the name of a food
        ("Oat bars\nMakes 10 bars", "1 bar: 256 kcal", 10),
        ("Oat balls\nMakes 24 balls", "A portion of 3 balls: 240 kcal", 8),
        ("Oat meatballs\nMakes 24 meatballs", "A portion of 3 meatballs: 240 kcal", 8),
        ("Oat cookies\n18 cookies", "3 cookies = 300 kcal (100 each)", 18),
    ],
)
def test_servings_are_what_the_numbers_are_for(
    tmp_path: Path, made: str, text: str, servings: float
) -> None:
    row, lines, stated = read(tmp_path, f"{made}\n\n{LIST}\n{text}\n")
    assert row["servings"] == servings
    assert lines == LIST.split("\n")[:-1]
    assert set(stated) == {KCAL}


def test_an_ingredient_with_its_energy_stays_one(tmp_path: Path) -> None:
    text = "Omelette\nServes 1\n\n2 eggs: 154 kcal\n10 g butter: 75 kcal\n\n229 kcal\n"
    _, lines, stated = read(tmp_path, text)
    assert lines == ["2 eggs: 154 kcal", "10 g butter: 75 kcal"]
    assert stated == {KCAL: (229, "per_serving")}


@pytest.mark.parametrize(
    "text",
    [
        "1551 calories total / 388 each",
        "1551 total calories, 388 per serving",
        "Total calories 1551, per person 388",
        "1551 kcal total, 388 kcal per serving",
        "Total: 1551 calories (388 each)",
        "1551 cals in total, so 388 each",
        "Batch: 1551 kcal, 388 each",
        "388 kcal per serving (1551 kcal total)",
        "The lot comes to 1551 kcal, 388 a head",
        "Whole pot: 1551 kcal. Per serving: 388 kcal",
        "388 cals each, 1551 for the lot",
        "It's 1551 kcal altogether which is 388 each",
        "Whole dish 1551 kcal / 4 = 388 kcal",
        "1551 ÷ 4 = 388 kcal",
        "1551kcal/388 each",
        "Kcals: 1551 (388pp)",
        "Calories: 1551 (whole), 388 (serving)",
        "kcal total 1551 / portion 388",
    ],
)
def test_the_whole_beside_one_part(tmp_path: Path, text: str) -> None:
    row, lines, stated = read(tmp_path, f"Oat pot\n\n{LIST}\n{text}, 28 g protein\n")
    assert stated == {KCAL: (388, "per_serving"), P: (28, "per_serving")}
    assert row["servings"] == 4  # the one is four times the other
    assert lines == LIST.split("\n")[:-1]


@pytest.mark.parametrize(("text", "basis"), cases(__file__, "what_numbers_are_for"))
def test_what_numbers_are_for(text: str, basis: str | None) -> None:
    assert read_stated_line(text).basis == basis


def test_a_whole_that_is_no_multiple_of_the_part_tells_no_servings() -> None:
    assert find_facts("1551 kcal total, 440 each").yields == ()
    assert math.isnan(find_facts("Total time 30 min, 440 kcal each").parts)


@pytest.mark.parametrize("above", ["", "\n"])
def test_the_size_of_a_serving_leads_its_numbers(tmp_path: Path, above: str) -> None:
    told = "Serving size 295g. Calories 388. Total Fat 10g. Total Carbohydrate 45g. Protein 28g"
    _, lines, stated = read(tmp_path, f"Oat pot\nServes 4\n\n{LIST}{above}{told}\n")
    assert lines == LIST.split("\n")[:-1]
    assert {tag: amount for tag, (amount, _) in stated.items()} == {KCAL: 388, F: 10, C: 45, P: 28}


@pytest.mark.parametrize(
    "text",
    [
        "Per serve: 388cal 28gP 45gC 10gF",
        "28g protein and only 388 calories a serving (45C/10F)",
        "C45 F10 P28 = 388",
        "388 - P28 C45 F10",
    ],
)
def test_numbers_that_stand_close(text: str) -> None:
    line = read_stated_line(text)
    assert {f.tag: f.amount for f in line.found} == {KCAL: 388, P: 28, C: 45, F: 10}
    assert line.certain


def test_a_number_that_is_no_energy_of_the_macros_is_none() -> None:
    assert KCAL not in {f.tag for f in read_stated_line("C45 F10 P28 = 912").found}


@pytest.mark.parametrize(
    ("text", "unread"),
    [
        ("Per serving: 388 kcal, 28 protein, 45, 10", ("45", "10")),
        ("388kcal 28/45/10", ("28", "45", "10")),
        ("Per serving (2 slices, 120 g): 412 kcal | 32P 45C 11F", ()),
        ("412 kcal / 1724 kJ, fat 11 g (16% DV), iron 2 mg", ()),
        ("Serves 4 · 512 kcal · 35 min", ()),
        ("1551 kcal total, 388 each", ()),
    ],
)
def test_numbers_that_nothing_names_are_told(
    tmp_path: Path, text: str, unread: tuple[str, ...]
) -> None:
    assert read_stated_line(text).unread == unread
    (tmp_path / "card.txt").write_text(f"Oat pot\nServes 4\n\n{LIST}\n{text}\n")
    told = [p for p in read_collection(tmp_path).problems if p.code == "stated-unread"]
    assert [", ".join(unread) in p.what for p in told] == [True] * bool(unread)


@pytest.mark.parametrize(
    "titles",
    [
        ("Beef cups (3 hungry people)", "Bean pot (for 2)"),
        ("Beef cups\nfor 4\n", "Bean pot\nfor 2\n"),
    ],
)
@pytest.mark.parametrize("last", ["s&p", "sprinkles", "lots of butter", "oil for frying"])
def test_the_last_line_of_a_list_is_not_lost(
    tmp_path: Path, titles: tuple[str, str], last: str
) -> None:
    lists = ["500 g beef mince", "3 tbsp soy sauce", "1 tbsp honey"], ["400 g beans", "1 onion"]
    told = "\nMacros pp: 312kcal, P83 C13 F12\n\n"
    texts = ["\n".join([title, *one, last]) for title, one in zip(titles, lists, strict=True)]
    (tmp_path / "notes.txt").write_text(told.join([*texts, ""]))
    found = read_collection(tmp_path)
    assert list(found.recipe["title"]) == ["Beef cups", "Bean pot"]
    assert list(found.line["text"]) == [*lists[0], last, *lists[1], last]


@pytest.mark.parametrize(
    ("first", "title"),
    [
        (
            "LEMON PRAWN SPAGHETTI 🍝🦐 under 400 calories!!",
            "LEMON PRAWN SPAGHETTI 🍝🦐 under 400 calories!!",
        ),
        ("Prawn pasta for less than 400 kcal", "Prawn pasta for less than 400 kcal"),
        ("15 MINUTE PRAWN PASTA 30g protein, 363 calories", "15 MINUTE PRAWN PASTA"),
        ("40g PROTEIN PANCAKES", "40g PROTEIN PANCAKES"),
    ],
)
def test_a_title_with_a_number(tmp_path: Path, first: str, title: str) -> None:
    above = "Egg rice\n(2 portions)\n\n🍚 300g cooked rice\n🥚 3 eggs\n🟢 100g frozen peas\n\n411 calories | 17P | 50C | 15F per portion\n\n#easydinner #highprotein #ricebowl\n"
    below = "Serves 2\n180g dried spaghetti\n200g raw king prawns\n1 tbsp olive oil\n\nPer serving: 363 kcal | P 30g | C 35g | F 12g\n"
    (tmp_path / "captions.txt").write_text(f"{above}---\n{first}\n{below}")
    found = read_collection(tmp_path)
    assert list(found.recipe["title"]) == ["Egg rice", title]
    kcal = found.stated.loc[found.stated["nutrient"] == KCAL, "amount"]
    assert list(kcal) == [411, 363]
    assert list(found.line["text"])[-3:] == below.split("\n")[1:4]


def test_what_a_title_promises_is_not_stated() -> None:
    assert not read_stated_line("under 400 calories!!").found
    assert [f.amount for f in read_stated_line("Under 400 kcal per serving").found] == [400]


@pytest.mark.parametrize("swapped", [False, True])
def test_cards_between_rules_keep_what_is_theirs(tmp_path: Path, swapped: bool) -> None:
    cards = [
        "Chicken pot\nServes 4\n400 g chicken breast\n295 g soy yogurt\nServing size: 295 g\nCalories: 388, Fat 10 g, Carbs 45 g, Protein 28 g\n",
        "Beef pan\nServes 4\n500 g beef mince\n200 g rice\n1551 cals in total, so 388 each\n",
    ]
    (tmp_path / "cards.txt").write_text("---\n".join(cards[::-1] if swapped else cards))
    found = read_collection(tmp_path)
    titles = ["Chicken pot", "Beef pan"]
    assert list(found.recipe["title"]) == (titles[::-1] if swapped else titles)
    assert list(found.recipe["servings"]) == [4, 4]
    assert len(found.line) == 4
    assert list(found.stated.loc[found.stated["nutrient"] == KCAL, "amount"]) == [388, 388]


@pytest.mark.parametrize(
    "texts",
    [
        [
            "Per portion (without pasta): 320 kcal, 30 g protein",
            "Per portion with pasta: 595 kcal, 40 g protein",
        ],
        ["Per portion: 595 kcal, 40 g protein", "Per portion excluding the oats: 320 kcal"],
    ],
)
def test_numbers_without_a_part_are_not_judged(tmp_path: Path, texts: list[str]) -> None:
    card = f"Oat pot\nServes 4\n\n{LIST}\n" + "\n".join(texts) + "\n"
    (tmp_path / "card.txt").write_text(card)
    found = read_collection(tmp_path)
    assert sorted(found.stated["amount"]) == [40, 595]
    assert [p.code for p in found.problems] == ["stated-without"]


def test_numbers_without_what_the_list_does_not_hold_are_judged(tmp_path: Path) -> None:
    _, _, stated = read(
        tmp_path, f"Oat pot\nServes 4\n\n{LIST}\nPer serving without rice: 320 kcal\n"
    )
    assert stated == {KCAL: (320, "per_serving")}


def test_a_cell_says_itself_what_it_is_for(tmp_path: Path) -> None:
    (tmp_path / "bakes.csv").write_text(
        "Recipe,Makes,Ingredients,Calories (whole recipe)\n"
        'Cookies,18 cookies,"200 g flour\n100 g butter",107 kcal each\n'
        'Bars,12 bars,"200 g oats\n100 g butter",1900 kcal\n'
    )
    (tmp_path / "pot.json").write_text(
        '{"title": "Pot", "servings": 4, "ingredients": ["200 g oats"], "per_recipe": {"kcal": "388 per serving"}}'
    )
    found = read_collection(tmp_path)
    assert list(found.stated["basis"]) == ["per_serving", "per_recipe", "per_serving"]
