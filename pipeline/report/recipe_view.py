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
from pipeline.report.words import (
    amount,
    known,
    number,
    nutrient_word,
    percent,
    stated_amount,
    unit_of,
)

if TYPE_CHECKING:
    import pandas as pd

    from pipeline.run import Result

#: Explanations less likely than this stay in explanations.csv, unless they are the first.
LEAST_SHOWN = 0.02
#: Tables of a result whose rows the page of a recipe shows.
_TABLES = (
    "findings", "explanations", "checks", "corrected", "claims", "doubt", "lines", "problems",
)  # fmt: skip
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
        shown: rows of ``result.recipes``, in the order wanted.
        numbers: recipe_id to its number in the report; ``hrefs``: to its page.
        said: (recipe_id, line_no) to when a line was spoken and the anchor of that place.
        tasks: page of a recipe to what there is to do about its numbers.
    """
    ids = set(shown["recipe_id"])
    tables = {name: by_recipe(_of(getattr(result, name), ids)) for name in _TABLES}
    facts_of = {r["recipe_id"]: r for r in records(_of(result.per_recipe, ids))}
    recipe_of = {r["recipe_id"]: r for r in records(_of(result.collection.recipe, ids))}
    runners = _runners(result, ids)
    several = len(tables_in_force(result.snapshot)) > 1
    out = []
    for row in records(shown):
        recipe_id, href = str(row["recipe_id"]), hrefs[row["recipe_id"]]
        mine = {name: rows.get(recipe_id, []) for name, rows in tables.items()}
        facts, own = facts_of.get(recipe_id, {}), recipe_of.get(recipe_id, {})
        kcal = (r["kcal"] for r in mine["lines"] if known(r.get("kcal")))
        total_kcal = math.fsum(value for value in kcal if value > 0)
        lines = [
            _line(r, total_kcal, runners, several, said.get((recipe_id, int(r["line_no"])), ("", "")))
            for r in mine["lines"]
        ]  # fmt: skip
        more: Row = {
            "title": row["title"] or recipe_id, "accepted": row.get("accepted", ""), "href": href,
            "number": numbers[recipe_id], "task": tasks.get(href), "lines": lines,
            "creator": own.get("creator", ""), "servings_how": own.get("servings_how", ""),
            "where": _where(row["source"], own.get("source_line"), recipe_id),
            "servings": _servings(facts.get("servings"), own), "weight": _weight(facts),
            "saying": _saying(row["verdict"], mine["findings"], facts.get("servings")),
            "gauges": [gauge(f, result.settings.profile) for f in mine["findings"]],
            "publish": [_publish(p) for p in mine["corrected"]],
            "explanations": [
                e for e in mine["explanations"] if e["rank"] == 1 or e["probability"] >= LEAST_SHOWN
            ],
            "unlikely": words.unlikely(row["verdict"], next(iter(mine["explanations"]), None)),
            "advice": [
                d for d in mine["doubt"][:3] if d.get("advice") and d["share"] >= LEAST_DOUBT
            ],
        }  # fmt: skip
        out.append(SimpleNamespace(**{**row, **mine, **more}))
    return out


def _servings(servings: Any, own: Row) -> str:
    if not known(servings):
        return "servings not said"
    return words.servings_word(servings, text_of(own.get("serving_word")))


def _saying(verdict: str, findings: list[Row], servings: Any) -> str:
    """The verdict in a sentence that names the numbers."""
    bad, open_ = (
        [nutrient_word(f["nutrient"]) for f in findings if f["verdict"] == verdict]
        for verdict in ("disagrees", "uncertain")
    )
    key, named = "open", words.listing(open_, 9).capitalize() or "A number"
    if not findings:
        key = "nothing"
    elif verdict == "not_judged":
        a_serving = all(f["basis"] == "per_serving" for f in findings)
        key = "no_servings" if a_serving and not known(servings) else "not_judged"
    elif verdict == "agrees":
        key, named = "agrees_open" if open_ else "agrees", words.listing(open_)
    elif bad:
        key, named = "bad_one" if len(bad) == 1 else "bad", words.listing(bad, 9).capitalize()
    elif verdict == "disagrees":
        key = "together"
    return words.SAYING[key].format(named)


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
    name = nutrient_word(column).capitalize()
    per = words.PER.get(str(finding.get("basis")), "as stated")
    stated_text, computed_text = stated_amount(stated, column), amount(computed, column)
    range_text = f"between {number(low, unit)} and {amount(high, column)}" if has_range else ""
    allowed_text = _allowed_text(band, allowed, column)
    alt = [
        f"{name}, {per}: stated {stated_text}", f"the lines add up to {computed_text}",
        range_text and f"likely {range_text}", allowed_text and f"allowed {allowed_text}",
    ]  # fmt: skip
    verdict = finding["verdict"]
    difference = words.difference_sentence(column, stated, computed)
    said = [
        difference and f"stated {difference}", range_text and f"the sum is likely {range_text}",
        allowed_text and f"allowed {allowed_text}",
    ]  # fmt: skip
    return SimpleNamespace(
        column=column, name=name, per=per, verdict=verdict, stated_text=stated_text,
        computed_text=computed_text, in_words=words.upper_first("; ".join(filter(None, said))),
        alt=f"{'; '.join(filter(None, alt))}. {words.verdict_word(verdict).capitalize()}.",
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


PUBLISHED = (
    "kcal", "protein_g", "carbs_g", "fat_g", "fiber_g", "sugar_g", "satfat_g", "sodium_mg",
)  # fmt: skip


def _publish(row: Row) -> SimpleNamespace:
    """Numbers to publish on one basis; a cell is label, text with unit, column."""
    named = [(c, nutrient_word(c).capitalize(), unit_of(c)) for c in PUBLISHED]
    cells = [
        (label, f"{text} {unit}", column)
        for column, label, unit in (*named, ("salt_g", "Salt", "g"))
        if (text := text_of(row.get(column)))
    ]
    schema = text_of(row.get("schema_org"))
    with contextlib.suppress(ValueError):
        schema = json.dumps(json.loads(schema), ensure_ascii=False, indent=2)
    energy = words.ENERGY_FROM.get(text_of(row.get("energy_from")), "")
    notes = filter(None, (energy, *text_of(row.get("note")).split("; ")))
    return SimpleNamespace(
        per=words.PER.get(text_of(row.get("basis")), ""), caption=text_of(row.get("caption")),
        schema_org=schema, note=". ".join(map(words.upper_first, notes)), cells=cells,
    )  # fmt: skip


def _line(
    row: Row, total_kcal: float, runners: dict[str, list[str]], several: bool,
    said: tuple[str, str],
) -> SimpleNamespace:  # fmt: skip
    """One ingredient line as it was counted: its row, with numbers in words.

    ``part_of``: number of the written line whose food this is, where that holds several;
    ``food_source``: the table it comes from, "" where only one is in use.
    """
    grams, kcal, low, high = (
        _figure(row.get(c)) for c in ("grams", "kcal", "grams_low", "grams_high")
    )
    share = kcal / total_kcal if known(kcal) and total_kcal > 0 else None
    heading, status = not row.get("names_food", True), row["status"]
    food_id, basis = row["food_id"], row["basis"]
    spread = known(low) and known(high) and high - low >= 0.01 * max(high, 1e-9)
    more: Row = {
        "line_no": int(row["line_no"]), "anchor": line_anchor(int(row["line_no"])),
        "part_of": int(row["part_of"]) if known(row.get("part_of")) else None, "heading": heading,
        "food": row["description"] or ("" if heading else "no food found"),
        "food_source": row.get("food_source", "") if several else "",
        "grams": words.grams(grams),
        "grams_range": f"{number(low)} to {words.grams(high)}" if spread else "",
        "basis": words.BASIS.get(basis, basis.replace("_", " ")),
        "sure": "" if heading else words.sure(row.get("confidence"), status),
        "confidence": percent(row.get("confidence")) if food_id and not heading else "",
        "kcal": amount(kcal, "kcal"), "share_text": percent(share),
        "share": None if share is None else round(100 * max(min(share, 1.0), 0.0), 1),
        "note": words.ROLE.get(row.get("role", ""), ""), "said": said[0], "said_anchor": said[1],
        "others": words.listing(runners.get(row["text"], []) if status != "accepted" else [], 3),
    }  # fmt: skip
    return SimpleNamespace(**{**row, **more})


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
