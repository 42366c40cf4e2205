"""The patterns of shared/card_phrases.csv."""

import re
from pathlib import Path

import pytest

import pipeline.intake
from pipeline.intake.patterns import pattern
from pipeline.resources import shared_rows

ROWS = list(shared_rows("card_phrases.csv"))


@pytest.mark.parametrize("name", [row["name"] for row in ROWS])
def test_every_row_compiles_with_its_parts_put_in(name: str) -> None:
    assert "(?&" not in pattern(name).pattern


def test_every_row_is_asked_for_by_code_or_by_another_row() -> None:
    folder = Path(pipeline.intake.__file__).parent
    code = "\n".join(path.read_text(encoding="utf-8") for path in folder.rglob("*.py"))
    asked = set(re.findall(r'pattern\("(\w+)"\)', code))
    asked |= {part for row in ROWS for part in re.findall(r"\(\?&(\w+)\)", row["pattern"])}
    names = {row["name"] for row in ROWS}
    assert names <= asked
    assert asked - names == {"number", "nutrient"}


def test_parts_are_numbers_rows_and_words_of_tables() -> None:
    assert pattern("amount").fullmatch("1½ tbsp")
    assert pattern("quantity").match("about a dozen eggs")
    assert not pattern("quantity").match("eggs, a dozen")
    share = pattern("share_size").search("1/4 of the recipe")
    assert share is not None
    assert share["b"] == "4"
