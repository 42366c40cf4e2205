"""Lines that state servings, times and nutrition at once; forms are common practice of cards."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from cases import cases
from hypothesis import given
from hypothesis import strategies as st

from pipeline.intake import Collection, read_collection
from pipeline.intake.columns import nutrient_column
from pipeline.intake.counted import count_of
from pipeline.intake.facts_line import (
    counted,
    counts_title,
    find_facts,
    sentence_yield,
    titled_yield,
    yield_line,
)
from pipeline.intake.servings import read_yield
from pipeline.intake.stated_line import read_stated_line

_INGREDIENTS = "\n\n## Ingredients\n- 2 tbsp olive oil\n- 200 g dried lentils\n- 300 g pasta\n"
_ALL = {"ENERC_KCAL": 512.0, "PROCNT": 24.0, "CHOCDF": 71.0, "FAT": 13.0}


def _read(folder: Path, head: str, title: str = "Lentil pasta") -> tuple[float, dict[str, float]]:
    (folder / "card.md").write_text(f"# {title}\n{head}{_INGREDIENTS}", encoding="utf-8")
    read = read_collection([folder])
    assert len(read.line) == 3
    stated = dict(zip(read.stated["nutrient"], read.stated["amount"], strict=True))
    return float(read.recipe["servings"].iloc[0]), stated


def _collection(folder: Path, name: str, text: str) -> Collection:
    """A folder with one file of that text, read."""
    (folder / name).write_text(text, encoding="utf-8")
    return read_collection([folder])


@pytest.mark.parametrize(
    "head",
    cases(__file__, "one_line"),
)
def test_servings_and_numbers_of_one_line(tmp_path: Path, head: str) -> None:
    assert _read(tmp_path, head) == (4.0, _ALL)


@pytest.mark.parametrize(("head", "servings"), cases(__file__, "counts_of_servings"))
def test_a_count_of_servings_is_never_an_amount(tmp_path: Path, head: str, servings: int) -> None:
    assert _read(tmp_path, head) == (servings, {"ENERC_KCAL": 512.0})


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("In a bowl (a sixth of the pot, no rice): 393 kcal, 33 g protein", ("6 servings",)),
        ("1/8 of the tray: 300 kcal", ("8 servings",)),
        ("Each quarter: 300 kcal, 20 g protein", ("4 servings",)),
        ("A plate is a fifth of the dish: 300 kcal, 10 g fat", ("5 servings",)),
        ("Use half of the tin: each portion is 200 kcal", ()),
        ("200 g tofu (half of the pack)", ()),
        ("A third of the recipe goes in the pan", ()),
    ],
)
def test_a_part_of_the_whole_beside_an_energy_tells_the_servings(
    text: str, said: tuple[str, ...]
) -> None:
    assert find_facts(text).yields == said


@pytest.mark.parametrize(("text", "servings"), cases(__file__, "sentences_of_the_whole"))
def test_a_sentence_may_end_in_what_the_whole_is_for(text: str, servings: str) -> None:
    assert sentence_yield(text) == servings


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("1 loaf of 10 slices", "10 slices"), ("One loaf, 14 slices.", "14 slices"),
        ("a tray - 12 squares", "12 squares"), ("1 pack of 8 slices ham", None),
        ("1 box of 6 muffins", None), ("1 tin pineapple slices", None),
    ],
)  # fmt: skip
def test_a_whole_and_its_parts_are_a_yield(text: str, said: str | None) -> None:
    assert yield_line(text) == said


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("For 10 cups:", "10 cups"), ("Total for one pot (8 small bowls):", "8 small bowls"),
        ("Quantities for 6:", "6 servings"), ("For the tray (12 squares):", "12 squares"),
        ("For 500 g:", None), ("For 10 cups", None), ("For the sauce:", None), ("For 1 loaf:", None),
        ("For 2 minutes:", None),
    ],
)  # fmt: skip
def test_above_a_list_stands_what_it_is_for(text: str, said: str | None) -> None:
    assert yield_line(text) == said


@pytest.mark.parametrize(
    ("text", "yields"),
    [
        ("Value of one portion (1/4): 374 kcal", ("4 servings",)),
        ("Per bar (1/12 of tray): 120 kcal", ("12 servings",)),
        ("¼ of the tray = 300 kcal", ("4 servings",)),
        ("one sixth of the loaf 210 kcal", ("6 servings",)),
        ("Each (1/4): 300 kcal", ("4 servings",)),
        ("12 of the tray = 300 kcal", ()),
        ("per serving (1/2 cup): 300 kcal", ()),
    ],
)  # fmt: skip
def test_the_share_that_numbers_are_for_tells_the_servings(
    text: str, yields: tuple[str, ...]
) -> None:
    assert find_facts(text).yields == yields


def test_what_a_title_counts_yields_to_how_many_it_feeds() -> None:
    assert titled_yield("BOXTY (6 pancakes, 2 each so feeds 3)") == ("BOXTY", "feeds 3")
    assert titled_yield("Spring rolls - 12 pcs") == ("Spring rolls", "12 pcs")
    assert titled_yield("Chilli (4 tubs, two for the freezer)") == ("Chilli", "4 tubs")


def test_people_stand_before_their_number_in_any_language() -> None:
    assert yield_line("Guests: 12") == "12 Guests"
    assert titled_yield("Plum pots x4") == ("Plum pots", "4 pots")
    assert titled_yield("Chicken 65 x2") == ("Chicken 65 x2", None)
    assert titled_yield("Quay soup      personer: 6, with bread") == ("Quay soup", "6 personer")
    assert yield_line("kids: 3 eggs") is None


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Good for 4.", "4"), ("Good for two!", "two!"), ("(good for 6 pax)", "6 pax)"), ("4 pax", "4 pax"),
        ("Dinner for four.", "four"), ("That's lunch for 2.", "2"), ("Plenty for 4 of us", "4 of us"),
        ("good for 3 hungry lads", "3 hungry lads"), ("Brown rice 2 servings", None),
        ("Makes enough for 4 pax", "4 pax"), ("Simmer for 4.", None), ("Bake for 25 min", None),
        ("This is a pot for 6.", "6"), ("A good pan for five", "five"), ("Simmer the pot for 20", None),
        ("Great for 2 days", None), ("Icing for 24 cupcakes", None), ("Good for 5 a day", None),
    ],
)  # fmt: skip
def test_a_short_remark_tells_how_many_eat(text: str, said: str | None) -> None:
    assert yield_line(text) == said


def test_a_yield_may_stand_in_a_step(tmp_path: Path) -> None:
    card = "Egg muffins\n\n- 8 eggs\n- 200 g cottage cheese\n\n180 degrees, 20 min. Makes 12. Cool them.\n\n"
    read = _collection(tmp_path, "card.txt", f"{card}WHOLE TRAY: 1120 kcal, 93 g protein\n")
    assert read.recipe["servings"].tolist() == [12]
    assert read.line["text"].tolist() == ["8 eggs", "200 g cottage cheese"]


def test_hyphens_hide_no_counted_thing() -> None:
    assert count_of("mug", ["Five mugs-to-go, no lids"]) == "5 mugs"
    assert count_of("pot", ["12 pot-stickers"]) == ""


def test_a_title_may_say_the_servings(tmp_path: Path) -> None:
    servings, _ = _read(tmp_path, "Per serving: 512 kcal", "Lentil pasta (serves 4)")
    assert servings == 4
    read = read_collection([tmp_path])
    assert list(read.recipe["title"]) == ["Lentil pasta"]
    assert read.problems == []


@pytest.mark.parametrize("said", ["just for me", "only for one", "(for me)"])
def test_what_is_for_one_eater_makes_one(tmp_path: Path, said: str) -> None:
    assert _read(tmp_path, "512 kcal, 20 g protein", f"Lentil pasta - {said}")[0] == 1


def test_a_title_of_a_page_may_say_the_servings(tmp_path: Path) -> None:
    (tmp_path / "pasta.yaml").write_text(
        "title: Lentil pasta (serves 4)\ningredients: [200 g pasta]\nstated: 512 kcal\n", "utf-8"
    )
    read = read_collection([tmp_path])
    assert list(read.recipe["title"]) == ["Lentil pasta (serves 4)"]
    assert list(read.recipe["servings"]) == [4]
    assert [p.code for p in read.problems] == ["servings-in-text"]


def test_sections_between_rules_are_one_card(tmp_path: Path) -> None:
    read = _collection(
        tmp_path,
        "card.txt",
        "Salmon bowl\nSERVES: 2    PREP: 10 MINS\n-----\nSalmon - 240g\nSushi rice (dry) - 120g\n"
        "Soy sauce: 2 tbsp\n-----\nPer serving: 545 calories / 36g protein / 55g carbs / 18g fat\n",
    )
    assert list(read.recipe["title"]) == ["Salmon bowl"]
    assert (read.recipe["servings"].iloc[0], read.recipe["serving_word"].iloc[0]) == (2, "servings")
    assert list(read.line["text"]) == [
        "Salmon - 240g",
        "Sushi rice (dry) - 120g",
        "Soy sauce: 2 tbsp",
    ]
    assert len(read.stated) == 4


def test_a_caption_of_a_video(tmp_path: Path) -> None:
    read = _collection(
        tmp_path,
        "caption.txt",
        "KCAL 158 | PROTEIN 15 | CARBS 11 | FAT 6\nCheesecake slices (8 slices)\n0:00 intro\n"
        "0:45 the base\n\nBASE\n▪️ 100g biscuits\n▪️ 30g melted butter\n\n"
        "Nutrition (8 slices) per slice:\nFibre 2g\n\nFollow: https://example.org\n#cheesecake #bake\n",
    )
    assert [t for t in read.line["text"] if not t.endswith(":")] == [
        "100g biscuits",
        "30g melted butter",
    ]
    assert read.recipe["servings"].iloc[0] == 8
    assert set(read.stated["nutrient"]) == {"ENERC_KCAL", "PROCNT", "CHOCDF", "FAT", "FIBTG"}


def test_numbers_for_all_servings_are_no_numbers_of_one() -> None:
    read = read_stated_line("2048 kcal, 96 g protein for 4 servings")
    assert (read.basis, read.per_count) == ("per_serving", 4)


@pytest.mark.parametrize(
    "text", ["per serving 512 kcal", "Per 2 cookies: 120 kcal", "1 serving: 512 kcal", "Serves 90 kcal",
             "50 Calorie Brownies", "serving size 2 slices"],
)  # fmt: skip
def test_what_numbers_are_for_is_no_yield(text: str) -> None:
    assert find_facts(text).yields == ()


@given(st.text(max_size=200))
def test_places_of_a_line_are_kept(text: str) -> None:
    facts = find_facts(text)
    assert len(facts.rest) == len(facts.counted) == len(text)


@given(
    st.integers(2, 40), st.integers(60, 1999),
    st.sampled_from(["Serves {}", "{} servings", "Makes {} portions", "Feeds {}", "for {} people"]),
    st.sampled_from([" · ", " | ", ", ", " – ", ". ", "; "]), st.booleans(),
)  # fmt: skip
def test_any_count_beside_any_energy(
    servings: int, kcal: int, form: str, between: str, first: bool
) -> None:
    said, energy = form.format(servings), f"{kcal} kcal per serving"
    line = between.join([said, energy] if first else [energy, said])
    read = read_stated_line(line)
    assert [(f.tag, f.amount) for f in read.found] == [("ENERC_KCAL", kcal)]
    assert len(find_facts(line).yields) == 1
    assert read.certain
    assert not math.isnan(read.found[0].step)


@pytest.mark.parametrize(
    ("header", "tag", "unit", "basis"),
    [
        ("kcal/portion", "ENERC_KCAL", "", "per_serving"),
        ("Fat/100g", "FAT", "", "per_100g"),
        ("Saturated fat (g)", "FASAT", "g", None),
        ("Prot.", "PROCNT", "", None),
        ("Salt [g]", "NA", "g", None),
        ("Energy (kcal)", "ENERC_KCAL", "kcal", None),
    ],
)
def test_headers_as_people_write_them(header: str, tag: str, unit: str, basis: str | None) -> None:
    column = nutrient_column(header)
    assert column is not None
    assert (column.tag, column.unit, column.basis) == (tag, unit, basis)


def test_a_nutrition_column_that_is_not_understood_is_told(tmp_path: Path) -> None:
    read = _collection(
        tmp_path,
        "r.csv",
        "title,serves,Ingredients (one per line),Protein quality,cholesterol mg,kcal/portion\n"
        'Rice,2,"100 g rice",A,3,180\n',
    )
    assert list(read.stated["amount"]) == [180]
    told = [p for p in read.problems if p.code == "columns-unread"]
    assert ['"Protein quality"' in p.what and "cholesterol" not in p.what for p in told] == [True]


def test_macros_by_their_letters(tmp_path: Path) -> None:
    read = _collection(
        tmp_path,
        "r.json",
        '{"title": "Rice", "serves": 2, "ingredients": ["100 g rice"],'
        ' "macros": {"cal": "180", "p": "4", "c": 40, "f": "0.5", "vibe": 3}}',
    )
    assert dict(zip(read.stated["nutrient"], read.stated["amount"], strict=True)) == {
        "ENERC_KCAL": 180, "PROCNT": 4, "CHOCDF": 40, "FAT": 0.5,
    }  # fmt: skip
    assert [p.code for p in read.problems] == ["unknown-key"]


def test_counts_of_a_text_but_measures_times_and_shares() -> None:
    found = counted("Into 5 deep jars, 40 min at 180C, 2 cm apart, then 3 x 4, per 2 of 6 guests")
    assert [(value, words) for value, words, _ in found] == [(5.0, ("deep", "jar"))]


@pytest.mark.parametrize(
    ("text", "yields"),
    [
        ("one wedge out of the fourteen", ("fourteen servings",)),
        ("a slice of 12: 210 kcal", ("12 servings",)),
        ("1 pack of 6 wraps", ()),
        ("PER TUB (6 tubs)", ("6 tubs",)),
        ("half is 315 kcal, 29 protein", ("2 servings",)),
        ("per serving (2 slices)", ()),
        ("Made from (batch of 22 balls):", ("(batch of 22 balls",)),
    ],
)
def test_one_of_how_many(text: str, yields: tuple[str, ...]) -> None:
    assert find_facts(text).yields == yields


def test_a_count_of_what_the_title_names() -> None:
    assert counts_title("8 pots (the 350s)", "SLAW POTS") == "8 servings"
    assert counts_title("1 square", "Honey squares") == ""  # what the numbers are for
    assert read_yield("8 pots (the 350s)").servings == 8
    assert yield_line("1 doz") == "1 doz"
    assert yield_line("1 doz eggs") is None
