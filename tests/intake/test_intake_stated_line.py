"""Free-form stated lines: names and amounts in any order, and what they are for."""

import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.intake.stated_line import read_stated_line
from pipeline.publish.restate import restate_line, stated_sentence

KCAL, P, C, F = "ENERC_KCAL", "PROCNT", "CHOCDF", "FAT"
FOUR = {KCAL: 412, P: 32, C: 45, F: 11}


@pytest.mark.parametrize(
    ("line", "basis", "expected"),
    [
        ("Per serving: 412 kcal, P 32 g, C 45 g, F 11 g", "per_serving", FOUR),
        ("Macros (per slice): 412 kcal | 32P 45C 11F", "per_serving", FOUR),
        ("Calories 412 Protein 32g Carbs 45g Fat 11g", None, FOUR),
        ("412 calories 32g protein 45g carbs 11g fat", None, FOUR),
        ("P: 32 C: 45 F: 11 kcal: 412", None, FOUR),
        ("P/C/F: 32/45/11, 412 kcal", None, FOUR),
        ("32P/45C/11F", None, {P: 32, C: 45, F: 11}),
        ("Protein 32 g Calories 412 Fat 11", None, {KCAL: 412, P: 32, F: 11}),
        ("Whole recipe: 1648 kcal; protein 128; carbs 180; fat 44", "per_recipe",
         {KCAL: 1648, P: 128, C: 180, F: 44}),
        ("Total: 1,648 kcal", "per_recipe", {KCAL: 1648}),
        ("per 100 g: 1,724 kJ / 412 kcal, fat 11 g of which saturates 3,2 g, carbohydrate 45 g "
         "(of which sugars 12 g), fibre 6 g, protein 32 g, salt 1.25 g", "per_100g",
         FOUR | {"FASAT": 3.2, "SUGAR": 12, "FIBTG": 6, "NA": 500}),
        ("~410 kcal · 31 g protein · 44 g net carbs · 12 g fat", None,
         {KCAL: 410, P: 31, "CHOAVLDF": 44, F: 12}),
        ("Each bar has 190 calories, 12 g protein", "per_serving", {KCAL: 190, P: 12}),
        ("Nutrition Facts: calories 1,200, sodium 600mg (26% DV)", None, {KCAL: 1200, "NA": 600}),
        ("Fat 11g (Sat Fat 3g), Carbs 45g (Fibre 6g, Sugars 12g)", None,
         {F: 11, "FASAT": 3, C: 45, "FIBTG": 6, "SUGAR": 12}),
        ("Energy 1724 kJ", None, {KCAL: 1724 / 4.184}),
        ("🔥 412 🥩 32 🍚 45 🧈 11", None, FOUR),
        ("🔥412 kcal | 💪🏽32g | 🍞45g | 🥑11g", None, FOUR),
        ("🔥 412 🍳 32 🍚 45 🧈 11", None, FOUR),  # the energy tells what the pan is
        ("412 kcal: 32P, 45C, 11", None, FOUR),
        ("412 kcal: 32P, 45C, 30", None, {KCAL: 412, P: 32, C: 45}),
        ("1720 kJ / 412 Cal a bowl. Protein 32 g, fat 11 g.", "per_serving", {KCAL: 412, P: 32, F: 11}),
        ("4 flatbreads. 1 flatbread: kcal 230 protein 12 carbs 41 fat 2", None,
         {KCAL: 230, P: 12, C: 41, F: 2}),
        ("Per 1 bar: protein 12 carbs 41 fat 2 kcal 230", "per_serving",
         {KCAL: 230, P: 12, C: 41, F: 2}),
        ("PER SERVE: 412 kcal, protein 32 g", "per_serving", {KCAL: 412, P: 32}),
        ("I only did the calories for it: 296 a helping", "per_serving", {KCAL: 296}),
        ("Calories? 340 a jar.", "per_serving", {KCAL: 340}),
        ("412 cal/serving", "per_serving", {KCAL: 412}),
        ("Per serving (250 g): 412 kcal", "per_serving", {KCAL: 412}),
        ("Trans fat 1 g, fat 11 g, cholesterol 20 mg, protein 32 g", None, {F: 11, P: 32}),
        ("200C, 25 min. 412 kcal, protein 32, carbs 45, fat 11", None, FOUR),
        ("Nobody at our table believed me but a bowl is 412 kcal, carbs 45g, protein 32g, fat 11g",
         "per_serving", FOUR),
    ],
)  # fmt: skip
def test_what_a_line_states(line, basis, expected):
    read = read_stated_line(line)
    assert {f.tag: f.amount for f in read.found} == pytest.approx(expected)
    assert read.basis == basis
    assert read.certain


@pytest.mark.parametrize(
    "line",
    [
        "100 g lean beef mince (5% fat)", "20 g protein powder", "1 x 100 calorie wrap",
        "2 tbsp low fat yogurt", "50 g sugar", "Salt: 5 g", "25 g fat", "40 g net carb wraps",
        "200 g sugar, 100 g fat free yogurt", "Serves 4", "1 g", "", "3 energy balls",
    ],
)  # fmt: skip
def test_an_ingredient_is_no_stated_line(line):
    assert not read_stated_line(line).certain


@pytest.mark.parametrize(
    "line", ["35 mins at 180C.", "200 °C / 400 °F", "Bake at 220 C until it sings", "to 74C inside"]
)
def test_a_temperature_is_no_nutrient(line):
    assert not read_stated_line(line).found


@pytest.mark.parametrize("line", ["Nutrition (per serving)", "Macros per slice:", "Per portion"])
def test_a_heading_only_announces(line):
    read = read_stated_line(line)
    assert read.heading
    assert read.basis == "per_serving"


def test_pieces_of_a_serving_are_counted():
    assert read_stated_line("Per 2 cookies: 180 kcal").per_count == 2
    assert read_stated_line("Per 250 g serving: 180 kcal").per_count is None


amounts = st.fixed_dictionaries(
    {KCAL: st.integers(1, 3000), P: st.integers(0, 300), C: st.integers(0, 300), F: st.integers(0, 300)}
)  # fmt: skip


@given(old=amounts, new=amounts)
def test_a_line_with_other_numbers_states_those(old, new):
    for line in (
        stated_sentence(old),
        f"{old[KCAL]} kcal | {old[P]}P {old[C]}C {old[F]}F",
        f"Energy {old[KCAL] * 4} kJ / {old[KCAL]} kcal, protein {old[P]} g, carbs {old[C]} g, fat {old[F]} g",
    ):
        edited, done = restate_line(line, new)
        assert done == set(new)
        assert {f.tag: f.amount for f in read_stated_line(edited).found} == pytest.approx(new)


@settings(max_examples=examples(200))
@given(st.text(max_size=120))
def test_reading_is_total(line):
    read = read_stated_line(line)
    for found in read.found:
        start, end = found.number_span
        assert 0 <= start < end <= len(line)


@pytest.mark.parametrize(
    ("text", "basis", "found"),
    [
        (
            "180 C for 35 min. One slab: 257 kcal, F 13, P 12, C 23",
            "per_serving",
            (257, 13, 12, 23),
        ),
        ("Each: P 20 C 120 F 10", "per_serving", (20, 120, 10)),
        ("443 calories to the tub, 19 g protein", "per_serving", (443, 19)),
        ("⚡️ one puck ⚡️ 133 cals ✨ 11P", "per_serving", (133, 11)),
        ("tub = 551 kcal, 21 pro", "per_serving", (551, 21)),
        ("1 muffin: Cal 220, protein 4.3 g", "per_serving", (220, 4.3)),
        ("Fat, total 28.2 g", None, (28.2,)),
        ("Total: 900 kcal", "per_recipe", (900,)),
    ],
)
def test_what_numbers_are_for_in_other_words(
    text: str, basis: str | None, found: tuple[float, ...]
) -> None:
    read = read_stated_line(text)
    assert read.basis == basis
    assert tuple(one.amount for one in read.found) == found


def test_a_name_set_apart_from_its_number_states_it() -> None:
    assert read_stated_line("Protein          9.4 g").certain
    assert not read_stated_line("Sugars           9.4 g").certain  # may be an ingredient


@pytest.mark.parametrize("line", ["beef mince, 5% fat ..... 500 g", "yoghurt 0 % fat - 150 g"])
def test_the_share_of_fat_of_a_food_states_nothing(line):
    assert read_stated_line(line).found == ()


def test_pictures_without_an_energy_are_foods():
    assert read_stated_line("🍚 150g 🥑 1 🥚 2").found == ()


def test_a_picture_that_no_table_knows_shifts_no_number():
    read = read_stated_line("🔥 412 kcal 🍓 9 🥩 32 🍚 45")
    assert {f.tag: f.amount for f in read.found} == {KCAL: 412, P: 32, C: 45}
