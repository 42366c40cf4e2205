"""The long fuzz of everything that reads text. Run by ``make soak``."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.reading import load_tools, read_lines

pytestmark = pytest.mark.soak

HERE = Path(__file__).parent
SECONDS = 12
#: Pieces that real lines are made of, in any disorder.
PIECES = st.sampled_from(
    ["1", "½", "1/2", "2-3", "1,5", "400 g", "cup", "tbsp", "tins", "x", "(", ")", ",", "or", "and",
     "plus", "half", "a", "of", "large", "juice", "to taste", "chopped", "rice", "egg whites", "oats",
     "for the sauce:", "per serving", "kcal", "protein", "–", "%", "/", "\u00a0", "é", "\u202e", "∞"]
)  # fmt: skip
PHRASES = st.lists(PIECES | st.text(max_size=8), max_size=60).map(" ".join)


@pytest.mark.parametrize("target", ["lines", "numbers", "cards", "files"])
def test_no_text_makes_a_reader_raise_or_hang(target, tmp_path):
    pytest.importorskip("atheris")
    corpus = tmp_path / "corpus"
    corpus.mkdir()
    (corpus / "line").write_text("2 x 400 g tins chickpeas, drained (about 480 g)")
    (corpus / "card").write_text(
        "Soup\nServes 4\n\nIngredients\n- 1½ cups rice\n\nPer serving: 412 kcal, P 32 g"
    )
    (corpus / "json").write_text('a{"title": "x", "servings": "2", "ingredients": ["1 egg"]}')
    (corpus / "page").write_text(
        'e<html><script type="application/ld+json">{"@type":"Recipe","name":"x"}</script></html>'
    )
    done = subprocess.run(
        [sys.executable, str(HERE / "fuzz_text.py"), target, str(SECONDS), str(corpus)],
        check=False, capture_output=True, text=True, timeout=SECONDS * 6, cwd=tmp_path,
    )  # fmt: skip
    found = {p.name: p.read_bytes() for p in tmp_path.glob("*-*") if p.is_file()}
    assert done.returncode == 0, (found, done.stderr[-3000:])
    assert "number_of_executed_units" in done.stderr


@pytest.fixture(scope="module")
def tools(snapshot):
    return load_tools(snapshot)


@settings(max_examples=4_000, deadline=None)
@given(PHRASES)
def test_every_line_is_read_matched_and_weighed_or_told_why_not(tools, text):
    began = time.process_time()
    (read,) = read_lines([text], tools)
    assert time.process_time() - began < 1.0
    assert read.parsed.text == text
    weight = read.weight
    assert (weight.grams is None) == (weight.low is None) == (weight.high is None)
    if weight.grams is None:
        assert weight.reason
    else:
        assert 0 <= weight.low <= weight.grams <= weight.high
    assert 0 <= read.match.confidence <= 1
    if read.match.food_id is None:
        assert read.match.reason
