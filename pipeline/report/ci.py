"""What continuous integration reports about a recipe: one message, the same in every format."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pipeline.report.words import amount, known, nutrient_word, verdict_word

if TYPE_CHECKING:
    from pipeline.run import Result

#: What XML 1.0 cannot hold.
_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


@dataclass(frozen=True, slots=True)
class Case:
    """One recipe.

    Attributes:
        message: stands alone on one line: which numbers, stated and computed.
        detail: the likeliest slip, "" when none was looked for.
        line_no: the ingredient line the slip is about, None when it is about none.
        line: where that line stands in the file, None when it has no place there.
        source_line: where the recipe begins, None when meaningless.
        accepted: why its difference is accepted, "" when it is not.
    """

    recipe_id: str
    title: str
    source: str
    source_line: int | None
    verdict: str
    message: str
    detail: str
    line_no: int | None
    line: int | None
    accepted: str = ""


def cases(result: Result) -> Iterator[Case]:
    """Every recipe, in the order of the collection."""
    recipe = result.collection.recipe
    begins = dict(zip(recipe["recipe_id"], recipe["source_line"], strict=True))
    lines = result.collection.line
    places: dict[tuple[str, int], object] = {
        (r, int(n)): at
        for r, n, at in zip(lines["recipe_id"], lines["line_no"], lines["source_line"], strict=True)
    }
    off: dict[str, list[tuple[str, float, float, str]]] = {}
    for r, nutrient, stated, computed, verdict in zip(
        *(result.findings[c] for c in ("recipe_id", "nutrient", "stated", "computed", "verdict")),
        strict=True,
    ):
        off.setdefault(r, []).append((nutrient, stated, computed, verdict))
    best: dict[str, tuple[str, int | None]] = {}
    if len(result.explanations):
        first = result.explanations[result.explanations["rank"] == 1]
        for r, detail, at in zip(
            first["recipe_id"], first["detail"], first["line_no"].astype("object"), strict=True
        ):
            best[r] = (str(detail), _line(at))
    table, accepted_ = result.recipes, result.accepted()
    for r, title, source, verdict in zip(
        *(table[c] for c in ("recipe_id", "title", "source", "verdict")), strict=True
    ):
        detail, line_no = best.get(r, ("", None))
        place = places.get((r, line_no)) if line_no is not None else None
        yield Case(
            recipe_id=str(r),
            title="" if title != title or title is None else str(title),
            source=str(source),
            source_line=_line(begins.get(r)),
            verdict=str(verdict),
            message=_message(str(verdict), off.get(r, [])),
            detail=detail,
            line_no=line_no,
            line=_line(place),
            accepted=accepted_.get(r, ""),
        )


def _line(value: object) -> int | None:
    try:
        number = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        return None
    return int(number) if known(number) and number >= 1 else None


def _message(verdict: str, findings: list[tuple[str, float, float, str]]) -> str:
    """ "disagrees: energy 412 kcal stated, 530 kcal computed; ..."."""
    if not findings:
        return f"{verdict_word(verdict)}: no number is stated"
    named = [f for f in findings if f[3] == verdict] or findings
    numbers = [
        f"{nutrient_word(nutrient)} {amount(stated, nutrient)} stated,"
        f" {amount(computed, nutrient)} computed"
        for nutrient, stated, computed, _ in named
    ]
    rest = f"; and {len(numbers) - 4} more" if len(numbers) > 4 else ""
    return f"{verdict_word(verdict)}: {'; '.join(numbers[:4])}{rest}"


def xml_text(text: str) -> str:
    """Text without the characters that XML 1.0 cannot hold."""
    return _NOT_XML.sub("\ufffd", text)
