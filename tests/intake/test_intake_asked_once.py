"""What costs most is asked once, and only where an answer changes anything."""

from __future__ import annotations

import json

import pytest

from pipeline.intake.known_texts import LONGEST_KEPT, kept_by_text
from pipeline.intake.structured import grids
from pipeline.intake.structured.documents import read_json
from pipeline.intake.text import card
from pipeline.intake.text.plain_lines import card_lines

STRANGE = "Wobblewomp of page 7\nServes 2\n\n120 g zarfling\n80 g oats\n\nStir it all.\n"


def test_a_text_without_rules_is_explained_once(monkeypatch):
    asked = []

    def decoded(lines):
        asked.append(len(lines))
        return explain(lines)

    explain = card.decoded
    monkeypatch.setattr(card, "decoded", decoded)
    alone = card.read_cards(card_lines(STRANGE), "wobblewomp.txt")
    assert [len(one.lines) for one in alone.recipes] == [2]
    assert len(asked) == 1
    card.read_cards(card_lines(f"{STRANGE}\n---\n\n{STRANGE}"), "two.txt")
    assert len(asked) > 2  # of two stretches each may be a card


def test_a_tree_without_tables_is_not_looked_through_for_doubts(monkeypatch):
    recipe = {"title": "Pea soup", "serves": 4, "ingredients": ["400 g peas", "1 onion"]}
    rows = [{"food": "peas", "grams": 400}, {"food": "onion", "grams": 100}, {"food": "salt"}]
    asked = []
    monkeypatch.setattr(grids, "leaves_doubt", lambda found: bool(asked.append(found)))
    assert read_json(json.dumps(recipe), "soup.json").recipes
    assert not asked
    read_json(json.dumps(recipe | {"ingredients": rows}), "soup.json")
    assert asked


@pytest.mark.parametrize(("length", "times"), [(LONGEST_KEPT, 1), (LONGEST_KEPT + 1, 2)])
def test_answers_of_short_texts_are_kept(length, times):
    asked = []

    @kept_by_text
    def read(text):
        asked.append(text)
        return len(text)

    assert read("x" * length) == read("x" * length) == length
    assert len(asked) == times
