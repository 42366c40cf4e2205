"""A recipe as its page shows it: gauges, explanations, lines and numbers to publish.

Plain values worked out from the tables, for ``report.view``; no markup, nothing left to decide.
What ``templates/recipe.html.j2`` and ``parts.html.j2`` name is made here and declared nowhere else: a
template that misspells it fails.
"""

from __future__ import annotations

import contextlib
import json
import math
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

from pipeline.problems import place
from pipeline.report import words
from pipeline.report.facts import tables_in_force
from pipeline.report.frames import Row, by_recipe, records, text_of
from pipeline.report.todo import Task
from pipeline.report.words import amount, known, number, nutrient_word, percent, unit_of

if TYPE_CHECKING:
    import pandas as pd

    from pipeline.run import Result

#: Explanations less likely than this stay in explanations.csv, unless they are the first.
LEAST_SHOWN = 0.02
#: A line that owns less of the doubt than this is not worth weighing.
LEAST_DOUBT = 0.1


def line_anchor(line_no: int) -> str:
    return f"l{line_no}"


def recipes_shown(
    result: Result,
    shown: pd.DataFrame,
    numbers: dict[str, int],
    hrefs: dict[str, str],
    said: dict[tuple[str, int], tuple[str, str]],
    tasks: dict[str, Task],
) -> list[SimpleNamespace]:
    """What the pages of recipes show.

    Args:
        result: of ``pipeline.verify``.
        shown: rows of ``result.recipes``, in the order wanted.
        numbers: recipe_id to its number in the report; ``hrefs``: to its page.
        said: (recipe_id, line_no) to when a line was spoken and the anchor of that place.
        tasks: page of a recipe to what there is to do about its numbers.
    """
    ids = set(shown["recipe_id"])
    names = (
        "findings", "explanations", "checks", "corrected", "claims", "doubt", "lines", "problems",
    )  # fmt: skip
    group = {name: by_recipe(_of(getattr(result, name), ids)) for name in names}
    facts_of = {r["recipe_id"]: r for r in records(_of(result.per_recipe, ids))}
    recipe_of = {r["recipe_id"]: r for r in records(_of(result.collection.recipe, ids))}
    runners = _runners(result, ids)
    several = len(tables_in_force(result.snapshot)) > 1
    out = []
    for row in records(shown):
        recipe_id, href = row["recipe_id"], hrefs[row["recipe_id"]]
        mine = {name: rows.get(recipe_id, []) for name, rows in group.items()}
        kcal = (r["kcal"] for r in mine["lines"] if known(r.get("kcal")))
        total_kcal = math.fsum(value for value in kcal if value > 0)
        lines = [
            _line(r, total_kcal, runners, several, said.get((recipe_id, int(r["line_no"])), ("", "")))
            for r in mine["lines"]
        ]  # fmt: skip
        about = _about(row, facts_of.get(recipe_id, {}), recipe_of.get(recipe_id, {}))
        judged = _judged(row, mine, result.settings.profile)
        place: Row = {"href": href, "number": numbers[recipe_id], "task": tasks.get(href)}
        out.append(SimpleNamespace(**place, **about, **judged, lines=lines))
    return out


def _about(row: Row, facts: Row, own: Row) -> Row:
    """What a recipe is called, where it stands, and what it makes."""
    servings: Any = facts.get("servings")
    return {
        "recipe_id": row["recipe_id"],
        "title": text_of(row["title"]) or row["recipe_id"],
        "creator": text_of(own.get("creator")),
        "where": _where(row["source"], own.get("source_line"), str(row["recipe_id"])),
        "servings": words.servings_word(servings, text_of(own.get("serving_word")))
        if known(servings)
        else "servings not said",
        "servings_how": text_of(own.get("servings_how")),
        "weight": _weight(facts),
        "coverage": percent(row["coverage"]),
    }


def _judged(row: Row, mine: dict[str, list[Row]], profile: str) -> Row:
    """The verdict on a recipe, what explains it, and what follows."""
    return {
        "verdict": row["verdict"],
        "word": words.verdict_word(row["verdict"]),
        "accepted": text_of(row.get("accepted")),
        "saying": _saying(row["verdict"], mine["findings"]),
        "gauges": [gauge(f, profile) for f in mine["findings"]],
        "explanations": [
            _explanation(e)
            for e in mine["explanations"]
            if e["rank"] == 1 or e["probability"] >= LEAST_SHOWN
        ],
        "checks": [text_of(c.get("message")) for c in mine["checks"]],
        "publish": [_publish(p) for p in mine["corrected"]],
        "claims": [
            {**c, "claim": text_of(c.get("claim")).replace("_", " ")} for c in mine["claims"]
        ],
        "advice": [
            words.upper_first(text_of(d["advice"]))
            for d in mine["doubt"][:3]
            if d.get("advice") and d["share"] >= LEAST_DOUBT
        ],
        "problems": mine["problems"],
    }


def _saying(verdict: str, findings: list[Row]) -> str:
    """The verdict in a sentence that names the numbers."""
    bad = [nutrient_word(f["nutrient"]) for f in findings if f["verdict"] == "disagrees"]
    open_ = [nutrient_word(f["nutrient"]) for f in findings if f["verdict"] == "uncertain"]
    sentences = words.SAYING
    if not findings:
        return sentences["nothing"]
    if verdict == "not_judged":
        return sentences["not_judged"]
    if verdict == "agrees":
        return (
            sentences["agrees_open"].format(words.listing(open_)) if open_ else sentences["agrees"]
        )
    if bad:
        return sentences["bad_one" if len(bad) == 1 else "bad"].format(
            words.listing(bad, 9).capitalize()
        )
    if verdict == "disagrees":
        return sentences["together"]
    return sentences["open"].format(words.listing(open_, 9).capitalize() or "A number")


def gauge(finding: Row, profile: str) -> SimpleNamespace:
    """Place one finding on a beam that holds all its marks with some air at the ends.

    Places are per cent of the beam's length; ``band`` and ``range`` are (left, width) or None,
    ``stated`` and ``computed`` places or None; ``alt``: the picture in a sentence.
    """
    column = finding["nutrient"]
    stated, computed = finding["stated"], finding["computed"]
    low, high, allowed = finding["low"], finding["high"], finding["allowed"]
    band = _band(stated, computed, allowed, profile)
    points = [x for x in (stated, computed, low, high, *(band or ())) if known(x)]
    least, most = (min(points), max(points)) if points else (0.0, 1.0)
    span = most - least or max(abs(most), 1.0)
    start, end = max(0.0, least - 0.12 * span) if least >= 0 else least, most + 0.12 * span

    def place(value: float) -> float:
        return round(100 * min(max((value - start) / (end - start), 0.0), 1.0), 2)

    def stretch(left: float, right: float) -> tuple[float, float]:
        return place(left), round(max(place(right) - place(left), 0.6), 2)

    unit = unit_of(column)
    has_range = known(low) and known(high)
    name, per = (
        nutrient_word(column).capitalize(),
        words.PER.get(str(finding.get("basis")), "as stated"),
    )
    stated_text, computed_text = amount(stated, column), amount(computed, column)
    range_text = f"between {number(low, unit)} and {amount(high, column)}" if has_range else ""
    allowed_text = _allowed_text(band, allowed, column)
    alt = [
        f"{name}, {per}: stated {stated_text}", f"the lines add up to {computed_text}",
        range_text and f"likely {range_text}", allowed_text and f"allowed {allowed_text}",
    ]  # fmt: skip
    verdict = finding["verdict"]
    return SimpleNamespace(
        column=column, name=name, per=per, verdict=verdict, stated_text=stated_text,
        computed_text=computed_text, range_text=range_text, allowed_text=allowed_text,
        alt=f"{'; '.join(filter(None, alt))}. {words.verdict_word(verdict).capitalize()}.",
        difference=words.difference_sentence(column, stated, computed),
        ticks=[(place(t), number(t, unit)) for t in _ticks(start, end)],
        stated=place(stated) if known(stated) else None,
        computed=place(computed) if known(computed) else None,
        band=stretch(*band) if band else None,
        range=stretch(low, high) if has_range else None,
    )  # fmt: skip


def _band(
    stated: float, computed: float, allowed: float, profile: str
) -> tuple[float, float] | None:
    """Where the computed number may lie. One-sided rules are drawn on the side in question only."""
    if not known(stated) or not known(allowed):
        return None
    low, high = max(stated - allowed, 0.0), stated + allowed
    if profile == "us" and known(computed):
        return (stated, high) if computed >= stated else (low, stated)
    return low, high


def _allowed_text(band: tuple[float, float] | None, allowed: float, column: str) -> str:
    if band is None:
        return "any difference to this side" if allowed == math.inf else ""
    return f"from {number(band[0], unit_of(column))} to {amount(band[1], column)}"


def _ticks(start: float, end: float) -> list[float]:
    """Three to six round numbers strictly inside the beam."""
    span = end - start
    step = 10 ** math.floor(math.log10(span)) if span > 0 else 1.0
    for factor in (2.0, 1.0, 0.5, 0.25, 0.2, 0.1):
        size = step * factor
        first = math.ceil((start + 0.04 * span) / size)
        ticks = [n * size for n in range(first, int((end - 0.04 * span) / size) + 1)]
        if len(ticks) >= 3:
            return ticks
    return []


def _explanation(row: Row) -> SimpleNamespace:
    """A slip that would give the stated numbers; ``sure``: "" where none was found that could be."""
    probability = row["probability"] if known(row["probability"]) else 0.0
    return SimpleNamespace(
        name=words.KIND.get(row["kind"], text_of(row["kind"]).replace("_", " ")),
        detail=text_of(row["detail"]),
        sure="" if row["kind"] == "none_found" else percent(probability),
    )


PUBLISHED = (
    "kcal", "protein_g", "carbs_g", "fat_g", "fiber_g", "sugar_g", "satfat_g", "sodium_mg",
)  # fmt: skip


def _publish(row: Row) -> SimpleNamespace:
    """Numbers to publish on one basis; a cell is label, text with unit, column."""
    cells = [
        (nutrient_word(c).capitalize(), f"{text_of(row.get(c))} {unit_of(c)}", c)
        for c in PUBLISHED
        if text_of(row.get(c))
    ]
    if text_of(row.get("salt_g")):
        cells.append(("Salt", f"{text_of(row['salt_g'])} g", "salt_g"))
    schema = text_of(row.get("schema_org"))
    with contextlib.suppress(ValueError):
        schema = json.dumps(json.loads(schema), ensure_ascii=False, indent=2)
    return SimpleNamespace(
        per=words.PER.get(text_of(row.get("basis")), ""),
        caption=text_of(row.get("caption")),
        schema_org=schema,
        note=". ".join(
            words.upper_first(n)
            for n in (
                words.ENERGY_FROM.get(text_of(row.get("energy_from")), ""),
                *text_of(row.get("note")).split("; "),
            )
            if n
        ),
        cells=cells,
    )


def _line(
    row: Row, total_kcal: float, runners: dict[str, list[str]], several: bool,
    said: tuple[str, str],
) -> SimpleNamespace:  # fmt: skip
    """One ingredient line as it was counted.

    ``part_of``: number of the written line whose food this is, where that holds several;
    ``food_source``: the table it comes from, "" where only one is in use.
    """

    def text(name: str) -> str:
        return text_of(row.get(name))

    kcal, low, high = (_figure(row.get(c)) for c in ("kcal", "grams_low", "grams_high"))
    share = kcal / total_kcal if known(kcal) and total_kcal > 0 else None
    heading = not row.get("names_food", True)
    part_of: Any = row.get("part_of")
    status, basis, food_id = text("status"), text("basis"), text("food_id")
    spread = known(low) and known(high) and high - low >= 0.01 * max(high, 1e-9)
    return SimpleNamespace(
        line_no=int(row["line_no"]),
        part_of=int(part_of) if known(part_of) else None,
        text=text("text"),
        heading=heading,
        food=text("description") or ("" if heading else "no food found"),
        food_id=food_id,
        food_source=text("food_source") if several else "",
        grams=words.grams(_figure(row.get("grams"))),
        grams_range=f"{number(low)} to {words.grams(high)}" if spread else "",
        basis=words.BASIS.get(basis, basis.replace("_", " ")),
        weigh_reason=text("weigh_reason"),
        sure="" if heading else words.sure(row.get("confidence"), status),
        confidence=percent(row.get("confidence")) if food_id and not heading else "",
        status=status,
        reason=text("reason"),
        kcal=amount(kcal, "kcal"),
        share=None if share is None else round(100 * max(min(share, 1.0), 0.0), 1),
        share_text=percent(share) if share is not None else "–",
        note=words.ROLE.get(text("role"), ""),
        others=words.listing(runners.get(text("text"), []) if status != "accepted" else [], 3),
        anchor=line_anchor(int(row["line_no"])),
        said=said[0],
        said_anchor=said[1],
    )


def _runners(result: Result, ids: set[str]) -> dict[str, list[str]]:
    lines = result.lines
    asked = set(lines.loc[lines["recipe_id"].isin(ids) & (lines["status"] != "accepted"), "text"])
    rows = result.runners_up
    if rows.empty or not asked:
        return {}
    out: dict[str, list[str]] = {}
    for row in records(rows[rows["text"].isin(asked)].sort_values("rank")):
        if text_of(row.get("description")):
            out.setdefault(row["text"], []).append(text_of(row["description"]))
    return out


def _weight(facts: Row) -> str:
    if not known(facts.get("weight_g")):
        return ""
    kind = {"yield": "cooked weight as given", "summed": "weight of the lines, raw"}
    how = kind.get(text_of(facts.get("weight_basis")), "")
    return f"{number(facts['weight_g'])} g ({how})" if how else f"{number(facts['weight_g'])} g"


def _where(source: Any, line: Any, recipe_id: str = "") -> str:
    name = text_of(source)
    name = "standard input" if name == "-" else name
    return place(name, int(line) if known(line) else None, recipe_id)


# --- frames to plain rows ---------------------------------------------------------------------


def _of(frame: pd.DataFrame, ids: set[str]) -> pd.DataFrame:
    return frame[frame["recipe_id"].isin(ids)] if "recipe_id" in frame.columns else frame


def _figure(value: Any) -> float:
    return float(value) if known(value) else math.nan
