"""Foods of a table without household measures weigh as the reference food of the same concept."""

from __future__ import annotations

from pathlib import Path

import pytest
from national_tables import ids, load_table, references, write_table

from pipeline.lines import parse
from pipeline.match.model import Match
from pipeline.snapshot import Snapshot
from pipeline.weigh import Weigher


@pytest.fixture(scope="module")
def alone(harbour_alone: Snapshot) -> Weigher:
    """A weigher over the invented national table alone."""
    return Weigher(harbour_alone)


def weigh(weigher: Weigher, text: str, name: str) -> tuple[float | None, str, str]:
    food_id = ids()[name]
    match = Match(
        text, food_id, name, 0.99, "accepted", "table", "", reference_id=references()[food_id]
    )
    (found,) = weigher.weigh([parse(text)], [match])
    return found.grams, found.basis, found.reason


LINES = [
    ("2 medium bananas", "Banana raw"),
    ("1 cup of oats", "Oat flakes"),
    ("1 tbsp olive oil", "Olive oil"),
    ("600 g potatoes, peeled", "Potato raw"),
    ("2 large eggs", "Egg hen raw"),
    ("3 eggs", "Egg hen raw"),
    ("2 cloves garlic", "Garlic raw"),
    ("1 cup grated carrot", "Carrot raw"),
    ("¾ cup self-raising flour", "Flour wheat self-raising"),
    ("180 ml whole milk", "Milk cow whole"),
    ("1 stick celery", "Celery raw"),
    ("4 slices wholemeal bread", "Bread wholemeal"),
    ("juice of 2 lemons", "Lemon juice"),
    ("1 x 400 g tin chickpeas, drained", "Chickpea tinned drained"),
    ("1 tin chickpeas", "Chickpea tinned drained"),
    ("2 tsp cumin seeds", "Cumin seed"),
    ("a pinch of salt", "Salt"),
    ("1 tbsp peanut butter", "Peanut butter smooth"),
    ("1 orange, peeled and segmented", "Orange raw"),
    ("three quarters of a large avocado", "Avocado raw"),
    ("a small bunch of mint", "Mint fresh"),
    ("1 large flour tortilla", "Tortilla wheat"),
]


@pytest.mark.parametrize(("text", "name"), LINES)
def test_grams_are_those_of_the_reference_food(
    alone: Weigher, weigher: Weigher, text: str, name: str
) -> None:
    grams, basis, _ = weigh(alone, text, name)
    measured = weigher.weigh_one(parse(text), references()[ids()[name]])
    assert grams == pytest.approx(measured.grams, rel=0.02)
    assert basis == measured.basis


def test_the_reason_says_whose_measure_it_is(alone: Weigher) -> None:
    assert "of Bananas, raw]" in weigh(alone, "2 medium bananas", "Banana raw")[2]
    why = weigh(alone, "600 g potatoes, peeled", "Potato raw")[2]
    assert "[SR28 refuse of Potatoes, flesh and skin, raw" in why


def test_seasoning_without_an_amount_stays_open(alone: Weigher) -> None:
    assert weigh(alone, "chilli powder", "Chilli powder")[1] == "open"


def test_without_a_reference_the_kind_of_food_is_left(alone: Weigher) -> None:
    found = alone.weigh_one(parse("1 tbsp olive oil"), ids()["Olive oil"])
    assert found.grams == pytest.approx(13.5, rel=0.05)  # volume_weights.csv knows oil
    assert alone.weigh_one(
        parse("1 tbsp olive oil"), ids()["Olive oil"], "", "sr28:00000"
    ).grams == pytest.approx(found.grams)  # an id that the snapshot lacks changes nothing


@pytest.mark.soak
def test_a_foods_own_measures_go_first(tmp_path: Path) -> None:
    mapping = write_table(
        tmp_path / "t",
        portions=[("Banana raw", "1 banana", 120), ("Milk cow whole", "1 cup", 250)],
    )
    own = Weigher(load_table(tmp_path / "home", mapping, only=True))
    assert weigh(own, "2 bananas", "Banana raw")[0] == 240
    assert weigh(own, "2 medium bananas", "Banana raw")[0] == 240
    assert weigh(own, "2 large bananas", "Banana raw")[0] == 272  # only SR28 weighed large ones
    assert weigh(own, "1 cup mashed banana", "Banana raw")[0] == 225
    assert weigh(own, "1 cup milk", "Milk cow whole")[0] == pytest.approx(250)
    assert weigh(own, "2 tbsp milk", "Milk cow whole")[0] == pytest.approx(31.25)


def test_the_pantrys_food_may_borrow_too(weigh_snapshot: Snapshot) -> None:
    found = Weigher(weigh_snapshot).weigh_one(
        parse("2 tbsp galley oil"), "pantry:galley-oil", "Galley oil", "sr28:04053"
    )
    assert found.grams == 27


@pytest.mark.soak
def test_a_code_that_is_another_foods_number_in_sr28_gives_no_measure(tmp_path: Path) -> None:
    mapping = write_table(tmp_path / "t", codes={"Olive oil": "09040", "Banana raw": "04053"})
    snapshot = load_table(tmp_path / "home", mapping)
    with snapshot.connect() as con:
        rows = con.sql(
            "select food_id, description, reference_id from food where source = 'harbour' "
            "and source_code in ('09040', '04053') order by food_id"
        ).fetchall()
    assert rows == [("harbour:04053", "Banana raw", None), ("harbour:09040", "Olive oil", None)]
    clashing = Weigher(snapshot)
    by_kind = clashing.weigh_one(parse("2 medium bananas"), "harbour:09040")
    assert "SR28 measure" not in by_kind.reason  # by the line's own words, not by the number
    found = clashing.weigh_one(parse("2 medium bananas"), "harbour:04053", "", "sr28:09040")
    assert found.grams == 236
