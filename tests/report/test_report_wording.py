"""Small words: one is one, no belief in nothing, and the report that is announced is the whole one."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.intake import read_collection
from pipeline.publish.write import write_cards
from pipeline.report import write
from pipeline.report.markdown import render as markdown
from pipeline.report.page import render_all
from pipeline.report.terminal import print_result
from pipeline.report.words import plural, servings_word, standing_of, stated_amount
from pipeline.run import Result

NOTHING = (
    "dal",
    1,
    "none_found",
    None,
    0.42,
    "No single slip fits",
    0.0,
    0.0,
    0.0,
    0.0,
    0.0,
    "per_serving",
)


def test_one_is_one() -> None:
    assert [plural(n, "recipe") for n in (0, 1, 2)] == ["0 recipes", "1 recipe", "2 recipes"]
    assert [servings_word(n) for n in (1.0, 4.0, 0.5)] == [
        "1 serving",
        "4 servings",
        "0.5 servings",
    ]
    assert servings_word(1.0, "loaf") == "1 loaf"


def test_no_belief_is_given_to_finding_nothing(
    make: Callable[..., Result], capsys: pytest.CaptureFixture[str]
) -> None:
    result = make(explanations=[NOTHING])
    print_result(result, [], None)
    said = capsys.readouterr().out
    assert "no single slip explains it" in said
    assert "42%" not in said
    for text in (*dict(render_all(result)).values(), markdown(result)):
        assert "42\u00a0%" not in text
    assert "No single slip fits" in dict(render_all(result))["pages/ferry-lentil-dal.html"]


def test_the_report_announced_is_that_of_the_whole_collection(
    make: Callable[..., Result], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    result = make()
    written = write(result, tmp_path, formats=["html"], by_creator=True)
    print_result(result, written, tmp_path)
    told = capsys.readouterr().out.splitlines()
    assert f"Report: {tmp_path / 'report.html'}" in told
    assert f"Reports per creator: 3 in {tmp_path / 'creators'}" in told
    assert any(line.startswith("4 recipes against") for line in told)
    one = make([spec for spec in _specs() if spec[0] == "dal"])
    print_result(one, [], None)
    assert "1 recipe against" in capsys.readouterr().out


def _specs() -> list:
    return [
        ("dal", "Ferry lentil dal", "Ines Tarn", "disagrees",
         {"kcal": (1800.0, 430.0, 405.0, 455.0, 60.0, "disagrees")})
    ]  # fmt: skip


SPOKEN = (
    "this is the galley porridge we take 80 grams of rolled oats then 200 millilitres of whole milk "
    "and one tablespoon of honey it makes one and per serving that is 450 calories 17 grams of protein"
)


@pytest.mark.parametrize("rows", [[SPOKEN], SPOKEN.split(" then ")])
def test_the_number_of_the_line_is_said_only_where_there_are_several(
    tmp_path: Path, rows: list[str]
) -> None:
    (tmp_path / "talk.txt").write_text("\n".join(rows) + "\n")
    collection = read_collection(tmp_path / "talk.txt")
    assert len(collection.line) >= 3
    made = write_cards(collection, tmp_path / "cards")
    text = made.paths[0].read_text()
    assert ("[line" in text) == (len(rows) > 1)


@pytest.mark.parametrize(
    ("value", "column", "shown"),
    [(20.5, "protein_g", "20.5 g"), (1020.5, "carbs_g", "1,020.5 g"), (20.0, "fat_g", "20 g"),
     (412.05, "kcal", "412 kcal"), (9.5, "fat_g", "9.5 g")],
)  # fmt: skip
def test_a_number_is_shown_as_it_is_stated(value: float, column: str, shown: str) -> None:
    assert stated_amount(value, column).replace("\u00a0", " ") == shown


def test_counts_of_verdicts_read_as_english() -> None:
    counts = {"disagrees": 13, "agrees": 1, "uncertain": 0, "not_judged": 2}
    assert ", ".join(f"{n} {standing_of(n, code)}" for code, n in counts.items()) == (
        "13 disagree, 1 agrees, 0 uncertain, 2 not judged"
    )
