"""What continuous integration reports about a recipe: one message, the same in every format."""

from __future__ import annotations

import re
from collections.abc import Iterator
from types import SimpleNamespace
from typing import TYPE_CHECKING

from pipeline.report.frames import Row, by_recipe, records, text_of
from pipeline.report.words import amount, known, nutrient_word, stated_amount, verdict_word

if TYPE_CHECKING:
    from pipeline.run import Result

#: What XML 1.0 cannot hold.
_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def cases(result: Result) -> Iterator[SimpleNamespace]:
    """Every recipe, in the order of the collection.

    Returns:
        Of each: recipe_id, title, source, verdict; source_line: where it begins, None when
        meaningless; message: stands alone on one line, which numbers, stated and computed; detail: the
        likeliest slip, "" when none was looked for; line_no: the ingredient line the slip is about,
        None when it is about none, and line: where that stands in the file, None when it has no place
        there; accepted: why its difference is accepted, "" when it is not.
    """
    recipe, line = result.collection.recipe, result.collection.line
    begins = dict(zip(recipe["recipe_id"], recipe["source_line"], strict=True))
    at = zip(line["recipe_id"], line["line_no"].astype(int), strict=True)
    places = dict(zip(at, line["source_line"], strict=True))
    off, first = by_recipe(result.findings), result.explanations
    best = by_recipe(first[first["rank"] == 1] if len(first) else first)
    accepted = result.accepted()
    for row in records(result.recipes):
        recipe_id, verdict = row["recipe_id"], str(row["verdict"])
        slip = best.get(recipe_id, [{"detail": "", "line_no": None}])[-1]
        line_no = line_of(slip["line_no"])
        yield SimpleNamespace(
            recipe_id=str(recipe_id),
            title=text_of(row["title"]),
            source=str(row["source"]),
            source_line=line_of(begins.get(recipe_id)),
            verdict=verdict,
            message=_message(verdict, off.get(recipe_id, [])),
            detail=str(slip["detail"]),
            line_no=line_no,
            line=line_of(places.get((recipe_id, line_no))) if line_no is not None else None,
            accepted=accepted.get(recipe_id, ""),
        )


def line_of(value: object) -> int | None:
    """The number of a line; None for what is missing or cannot be one."""
    try:
        number = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        return None
    return int(number) if known(number) and number >= 1 else None


def _message(verdict: str, findings: list[Row]) -> str:
    """ "disagrees: energy 412 kcal stated, 530 kcal computed; ..."."""
    if not findings:
        return f"{verdict_word(verdict)}: no number is stated"
    named = [f for f in findings if f["verdict"] == verdict] or findings
    numbers = [
        f"{nutrient_word(f['nutrient'])} {stated_amount(f['stated'], f['nutrient'])} stated,"
        f" {amount(f['computed'], f['nutrient'])} computed"
        for f in named
    ]
    rest = f"; and {len(numbers) - 4} more" if len(numbers) > 4 else ""
    return f"{verdict_word(verdict)}: {'; '.join(numbers[:4])}{rest}"


def xml_text(text: str) -> str:
    """Text without the characters that XML 1.0 cannot hold."""
    return _NOT_XML.sub("\ufffd", text)
