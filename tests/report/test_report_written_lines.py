"""Lines are counted as they are written: a food of a line that holds several has that line's number."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from pipeline.report.terminal import print_result
from pipeline.report.todo import advice
from pipeline.report.words import written_line
from pipeline.run import verify

CARD = """Hatch chicken
Serves 4

2 lbs boneless skinless chicken thighs
2 medium sweet potatoes, cubed
1 tbsp honey and 6 tbsp olive oil

Per serving: 477 kcal, protein 47 g, carbohydrate 34 g, fat 16 g
"""


@pytest.mark.parametrize(
    ("row", "number"),
    [({"line_no": 8, "part_of": 6.0}, 6), ({"line_no": 4, "part_of": float("nan")}, 4),
     ({"line_no": 4, "part_of": ""}, 4), ({"line_no": 4}, 4)],
)  # fmt: skip
def test_a_part_has_the_number_of_its_line(row: dict[str, object], number: int) -> None:
    assert written_line(row) == number


def test_no_sentence_counts_beyond_the_written_lines(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "a.txt").write_text(CARD)
    result = verify(tmp_path)
    parts = result.lines[result.lines["part_of"].notna()]
    assert parts["line_no"].tolist() == [4, 5]  # that is how they are kept
    said = [str(detail) for detail in result.explanations["detail"]]
    said += [words for pair in advice(result).values() for words in pair]
    print_result(result, [], None)
    said.append(capsys.readouterr().out)
    numbers = [int(n) for text in said for n in re.findall(r"\bline (\d+)", text)]
    assert any("olive oil" in text for text in said)
    assert numbers
    assert max(numbers) == 3
