"""Numbers under the letters of the macronutrients are corrected where they stand."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import yaml

from pipeline import verify
from pipeline.publish.correct import write_corrected

_RECIPE = {
    "title": "Rice with oil", "serves": 2, "ingredients": ["100 g white rice", "20 g olive oil"],
    "macros": {"cal": 900, "p": 4, "c": 80, "f": 40},
}  # fmt: skip


@pytest.mark.parametrize("ending", ["json", "yaml"])
def test_letters_are_corrected(tmp_path: Path, ending: str) -> None:
    folder = tmp_path / "in"
    folder.mkdir()
    text = json.dumps(_RECIPE) if ending == "json" else yaml.safe_dump(_RECIPE, sort_keys=False)
    (folder / f"rice.{ending}").write_text(text, encoding="utf-8")
    result = verify(folder)
    copies = write_corrected(result.collection, result.corrected, tmp_path / "out")
    assert copies.problems == []
    told = yaml.safe_load(copies.paths[0].read_text(encoding="utf-8"))["macros"]
    assert told["f"] == pytest.approx(10, abs=1)
    assert told["c"] == pytest.approx(40, abs=1)
    assert told["cal"] == pytest.approx(271, abs=5)
