"""What the page shows, worked out from the tables: plain values, no markup, nothing left to decide.

Templates only lay out what stands here. Every text is the creator's or ours and is escaped there.
"""

from __future__ import annotations

import contextlib
import json
import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from pipeline.intake.files import REPORT_PAGES
from pipeline.memory.decisions import text_key
from pipeline.problems import place
from pipeline.report import words
from pipeline.report.facts import facts, source_title
from pipeline.report.frames import by_recipe, records
from pipeline.report.patterns import Pattern, patterns
from pipeline.report.script import (
    Mark,
    ScriptView,
    fold_alike,
    mark_title,
    script_view,
    short_time,
)
from pipeline.report.todo import Group, Task, energy_of, open_kcal, to_do
from pipeline.report.words import amount, known, number, nutrient_word, percent, unit_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd

    from pipeline.run import Result

#: Recipes that get a file of their own each; beyond it they share one page (``report.paged``).
MOST_PAGES = 300
#: Folder of those pages, beside the report.
PAGES = REPORT_PAGES
#: Rows of lines to review and of problems.
MOST_REVIEW, MOST_PROBLEMS = 40, 100
#: Scripts shown whole, and how much text they may hold together; the others are counted.
MOST_SCRIPTS, MOST_SCRIPT_CHARS = 60, 3_000_000
#: Explanations less likely than this stay in explanations.csv, unless they are the first.
LEAST_SHOWN = 0.02
#: A line that owns less of the doubt than this is not worth weighing.
LEAST_DOUBT = 0.1

Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Gauge:
    """One stated number on its beam; places are per cent of the beam's length.

    ``band`` and ``range`` are (left, width) or None; ``stated`` and ``computed`` places or None.
    """

    column: str
    name: str
    per: str
    stated_text: str
    computed_text: str
    range_text: str
    allowed_text: str
    difference: str
    verdict: str
    ticks: list[tuple[float, str]]
    stated: float | None = None
    computed: float | None = None
    band: tuple[float, float] | None = None
    range: tuple[float, float] | None = None

    @property
    def alt(self) -> str:
        """The picture in a sentence."""
        parts = [f"{self.name}, {self.per}: stated {self.stated_text}"]
        parts.append(f"the lines add up to {self.computed_text}")
        if self.range_text:
            parts.append(f"likely {self.range_text}")
        if self.allowed_text:
            parts.append(f"allowed {self.allowed_text}")
        return f"{'; '.join(parts)}. {words.verdict_word(self.verdict).capitalize()}."


@dataclass(frozen=True, slots=True)
class Explanation:
    """A slip that would give the stated numbers."""

    kind: str
    name: str
    detail: str
    probability: float
    line_no: int | None

    @property
    def sure(self) -> str:
        """How likely, "" where nothing was found that could be."""
        return "" if self.kind == "none_found" else percent(self.probability)


@dataclass(frozen=True, slots=True)
class Line:
    """One ingredient line as it was counted."""

    line_no: int
    part_of: int | None  # line_no of the written line whose food this is, where it holds several
    text: str
    heading: bool
    food: str
    food_id: str
    food_source: str  # the table it comes from, "" where only one is in use
    grams: str
    grams_range: str
    basis: str
    weigh_reason: str
    sure: str
    confidence: str
    status: str
    reason: str
    kcal: str
    share: float | None
    share_text: str
    note: str
    others: str
    anchor: str
    said: str
    said_anchor: str


@dataclass(frozen=True, slots=True)
class Publish:
    """Numbers to publish on one basis."""

    per: str
    rule: str
    caption: str
    schema_org: str
    note: str
    cells: list[tuple[str, str, str]]  # label, text with unit, column


@dataclass(frozen=True, slots=True)
class Recipe:
    """A recipe's page; ``href``: its address from the report."""

    href: str
    number: int
    recipe_id: str
    title: str
    creator: str
    where: str
    servings: str
    servings_how: str
    weight: str
    coverage: str
    verdict: str
    word: str
    saying: str
    gauges: list[Gauge]
    explanations: list[Explanation]
    checks: list[str]
    publish: list[Publish]
    claims: list[Row]
    advice: list[str]
    lines: list[Line]
    problems: list[Row]
    accepted: str = ""
    task: Task | None = None


@dataclass(frozen=True, slots=True)
class Entry:
    """A recipe in the list of all; ``href``: its own page, "" when it has none."""

    href: str
    number: int
    title: str
    where: str
    verdict: str
    word: str
    coverage: str
    cells: list[tuple[str, str, str, str]]  # column, stated, computed, verdict
    saying: str
    accepted: str = ""


@dataclass(frozen=True, slots=True)
class View:
    """Everything the page shows."""

    facts: Row
    table: str
    profile: str
    rounding: str
    creator: str
    pages: list[tuple[str, str]]
    total: int
    counts: dict[str, int]  # by verdict, accepted differences apart
    headline: str
    todo: list[Group]
    accepted: list[tuple[str, str, str]]  # title, page, reason
    unstated: int  # recipes that state nothing
    patterns: list[tuple[Pattern, list[tuple[str, str]]]]
    review: list[Row]
    review_total: int
    problems: list[Row]
    problem_total: int
    index: list[Entry]
    recipes: list[Recipe]
    scripts: list[tuple[str, ScriptView]]
    scripts_left_out: int
    numbers: dict[str, int] = field(default_factory=dict)
    paged: str = ""  # of a large collection: JSON that its scripts read; index holds the first page


def view(
    result: Result,
    *,
    pages: Mapping[str, str] | None = None,
    creator: str = "",
    numbers: dict[str, int] | None = None,
) -> View:
    """Work out the report of a result: its overview, and the page of each recipe.

    Args:
        result: of ``pipeline.verify``.
        pages: creator to the folder of their own report.
        creator: whose recipes these are, "" for everybody's.
        numbers: the recipes' numbers where the result is the first of a large collection, whose
            recipes share one page; None where each has its own.
    """
    ordered = result.recipes_by_size()
    titles = dict(zip(ordered["recipe_id"], ordered["title"].map(_text), strict=True))
    if numbers is None:
        numbers = {str(r): i for i, r in enumerate(ordered["recipe_id"], start=1)}
        shown, hrefs = ordered, _hrefs(ordered, titles)
    else:
        shown, hrefs = ordered.head(0), {r: paged_href(n) for r, n in numbers.items()}
    scripts, said = _scripts(result, titles, hrefs)
    todo = to_do(result, titles, hrefs)
    recipes = _recipes(result, shown, numbers, hrefs, said, _fixes(todo))
    problems = _folded(result, scripts)
    order = problems["severity"].map({"error": 0, "warning": 1}).fillna(2)
    listed = problems.assign(_order=order).sort_values("_order", kind="stable")
    standing = result.standing()
    return View(
        facts=facts(result),
        table=source_title(result),
        profile=words.PROFILE.get(result.settings.profile, result.settings.profile),
        rounding=result.settings.publish,
        creator=creator,
        pages=sorted((pages or {}).items()),
        total=len(ordered),
        counts=standing,
        headline=headline(standing),
        todo=todo,
        accepted=[
            (titles.get(r) or r, hrefs.get(r, ""), why) for r, why in result.accepted().items()
        ],
        unstated=int((~ordered["recipe_id"].isin(set(result.findings["recipe_id"]))).sum()),
        patterns=[
            (p, [(titles.get(r, r), hrefs.get(r, "")) for r in p.recipe_ids[:6]])
            for p in patterns(result)
        ],
        review=_review(result, titles, hrefs),
        review_total=len(result.to_review),
        problems=records(listed.head(MOST_PROBLEMS)),
        problem_total=len(result.problems),
        index=_index(result, ordered, numbers, hrefs),
        recipes=recipes,
        scripts=scripts,
        scripts_left_out=len(result.scripts) - len(scripts),
        numbers=numbers,
    )


def page_names(result: Result) -> dict[str, str]:
    """Where the report has the page of each recipe, by recipe_id."""
    ordered = result.recipes_by_size()
    if len(ordered) > MOST_PAGES:
        return {str(r): paged_href(n) for n, r in enumerate(ordered["recipe_id"], start=1)}
    return _hrefs(
        ordered, dict(zip(ordered["recipe_id"], ordered["title"].map(_text), strict=True))
    )


def paged_href(number: int) -> str:
    """Where a large collection's report shows the recipe of that number."""
    return f"report-recipe.html#{number}"


def _hrefs(shown: pd.DataFrame, titles: dict[str, str]) -> dict[str, str]:
    """Where the page of each recipe stands, by its title; stable while titles are."""
    from pipeline.publish.write import slug

    out: dict[str, str] = {}
    taken: set[str] = set()
    for recipe_id in sorted(str(r) for r in shown["recipe_id"]):
        base = name = slug(titles.get(recipe_id) or recipe_id)
        again = 1
        while name in taken:
            again += 1
            name = f"{base}-{again}"
        taken.add(name)
        out[recipe_id] = f"{PAGES}/{name}.html"
    return out


def _fixes(todo: list[Group]) -> dict[str, Task]:
    """Page of a recipe to what there is to do about its numbers."""
    return {t.href: t for g in todo if g.kind in ("fix", "weigh") for t in g.tasks if t.href}


def headline(counts: dict[str, int]) -> str:
    """The first sentence of a report, of recipes by how they stand."""
    total, known_ = sum(counts.values()), counts.get("accepted", 0)
    if not total:
        return "No recipe was found to check"
    bad, open_, good = counts["disagrees"], counts["uncertain"], counts["agrees"]
    if not bad + open_ + good + known_:
        return "No recipe could be judged"
    if not bad and not open_ and known_:
        rest = f"{good:,d} of {total:,d} agree" if good else "the others could not be judged"
        return f"No recipe waits for an answer: {known_:,d} accepted, {rest}"
    if not bad and not open_:
        return (
            "The recipe states what its ingredients add up to"
            if good == 1
            else f"All {good:,d} recipes that could be judged state what their ingredients add up to"
        )
    if not bad:
        return f"No recipe disagrees with its ingredients; {open_:,d} of {total:,d} stay open"
    if total == 1:
        return "The recipe states numbers its ingredients do not add up to"
    states = "states numbers its" if bad == 1 else "state numbers their"
    return f"{bad:,d} of {total:,d} recipes {states} ingredients do not add up to"


# --- a recipe ---------------------------------------------------------------------------------


def _recipes(
    result: Result,
    shown: pd.DataFrame,
    numbers: dict[str, int],
    hrefs: dict[str, str],
    said: dict[tuple[str, int], tuple[str, str]],
    tasks: dict[str, Task],
) -> list[Recipe]:
    ids = set(shown["recipe_id"])
    group = {
        name: _grouped(getattr(result, name), ids)
        for name in (
            "findings", "explanations", "checks", "corrected", "claims", "doubt", "lines",
            "problems",
        )
    }  # fmt: skip
    facts_of = {r["recipe_id"]: r for r in records(_of(result.per_recipe, ids))}
    recipe_of = {r["recipe_id"]: r for r in records(_of(result.collection.recipe, ids))}
    runners = _runners(result, ids)
    several = sum(not s.get("reference") for s in result.snapshot.get("sources", [])) > 1
    out = []
    for row in records(shown):
        recipe_id = row["recipe_id"]
        mine = {name: rows.get(recipe_id, []) for name, rows in group.items()}
        facts, own = facts_of.get(recipe_id, {}), recipe_of.get(recipe_id, {})
        total_kcal = math.fsum(
            r["kcal"] for r in mine["lines"] if known(r.get("kcal")) and r["kcal"] > 0
        )
        out.append(
            Recipe(
                href=hrefs[recipe_id],
                number=numbers[recipe_id],
                recipe_id=recipe_id,
                title=_text(row["title"]) or recipe_id,
                creator=_text(own.get("creator")),
                where=_where(row["source"], own.get("source_line"), str(row["recipe_id"])),
                servings=_servings(facts.get("servings"), _text(own.get("serving_word"))),
                servings_how=_text(own.get("servings_how")),
                weight=_weight(facts),
                coverage=percent(row["coverage"]),
                verdict=row["verdict"],
                word=words.verdict_word(row["verdict"]),
                saying=_saying(row["verdict"], mine["findings"]),
                gauges=[_gauge(f, result.settings.profile) for f in mine["findings"]],
                explanations=[
                    _explanation(e)
                    for e in mine["explanations"]
                    if e["rank"] == 1 or e["probability"] >= LEAST_SHOWN
                ],
                checks=[_text(c.get("message")) for c in mine["checks"]],
                publish=[_publish(p) for p in mine["corrected"]],
                claims=[{**c, "claim": _text(c.get("claim")).replace("_", " ")}
                        for c in mine["claims"]],
                advice=[
                    _sentence_case(_text(d["advice"]))
                    for d in mine["doubt"][:3]
                    if d.get("advice") and d["share"] >= LEAST_DOUBT
                ],
                lines=[
                    _line(r, total_kcal, runners, several, said.get((recipe_id, int(r["line_no"])), ("", "")))
                    for r in mine["lines"]
                ],
                problems=mine["problems"],
                accepted=_text(row.get("accepted")),
                task=tasks.get(hrefs[recipe_id]),
            )
        )  # fmt: skip
    return out


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


def _gauge(finding: Row, profile: str) -> Gauge:
    """Place one finding on a beam that holds all its marks with some air at the ends."""
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
    return Gauge(
        column=column,
        name=nutrient_word(column).capitalize(),
        per=words.PER.get(str(finding.get("basis")), "as stated"),
        stated_text=amount(stated, column),
        computed_text=amount(computed, column),
        range_text=f"between {number(low, unit)} and {amount(high, column)}" if has_range else "",
        allowed_text=_allowed_text(band, allowed, column),
        difference=words.difference_sentence(column, stated, computed),
        verdict=finding["verdict"],
        ticks=[(place(t), number(t, unit)) for t in _ticks(start, end)],
        stated=place(stated) if known(stated) else None,
        computed=place(computed) if known(computed) else None,
        band=stretch(*band) if band else None,
        range=stretch(low, high) if has_range else None,
    )


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


def _explanation(row: Row) -> Explanation:
    return Explanation(
        kind=row["kind"],
        name=words.KIND.get(row["kind"], _text(row["kind"]).replace("_", " ")),
        detail=_text(row["detail"]),
        probability=row["probability"] if known(row["probability"]) else 0.0,
        line_no=int(row["line_no"]) if known(row["line_no"]) else None,
    )


PUBLISHED = (
    "kcal", "protein_g", "carbs_g", "fat_g", "fiber_g", "sugar_g", "satfat_g", "sodium_mg",
)  # fmt: skip


def _publish(row: Row) -> Publish:
    cells = [
        (nutrient_word(c).capitalize(), f"{_text(row.get(c))} {unit_of(c)}", c)
        for c in PUBLISHED
        if _text(row.get(c))
    ]
    if _text(row.get("salt_g")):
        cells.append(("Salt", f"{_text(row['salt_g'])} g", "salt_g"))
    schema = _text(row.get("schema_org"))
    with contextlib.suppress(ValueError):
        schema = json.dumps(json.loads(schema), ensure_ascii=False, indent=2)
    return Publish(
        per=words.PER.get(_text(row.get("basis")), ""),
        rule=_text(row.get("rule")),
        caption=_text(row.get("caption")),
        schema_org=schema,
        note=". ".join(
            _sentence_case(n)
            for n in (
                words.ENERGY_FROM.get(_text(row.get("energy_from")), ""),
                *_text(row.get("note")).split("; "),
            )
            if n
        ),
        cells=cells,
    )


def _line(
    row: Row,
    total_kcal: float,
    runners: dict[str, list[str]],
    several: bool,
    said: tuple[str, str],
) -> Line:
    kcal = _figure(row.get("kcal"))
    share = kcal / total_kcal if known(kcal) and total_kcal > 0 else None
    heading = not row.get("names_food", True)
    part_of: Any = row.get("part_of")
    status = _text(row.get("status"))
    basis = _text(row.get("basis"))
    low, high = _figure(row.get("grams_low")), _figure(row.get("grams_high"))
    spread = known(low) and known(high) and high - low >= 0.01 * max(high, 1e-9)
    food_id = _text(row.get("food_id"))
    others = runners.get(_text(row.get("text")), []) if status != "accepted" else []
    return Line(
        line_no=int(row["line_no"]),
        part_of=int(part_of) if known(part_of) else None,
        text=_text(row["text"]),
        heading=heading,
        food=_text(row.get("description")) or ("" if heading else "no food found"),
        food_id=food_id,
        food_source=_text(row.get("food_source")) if several else "",
        grams=words.grams(_figure(row.get("grams"))),
        grams_range=f"{number(low)} to {words.grams(high)}" if spread else "",
        basis=words.BASIS.get(basis, basis.replace("_", " ")),
        weigh_reason=_text(row.get("weigh_reason")),
        sure="" if heading else words.sure(row.get("confidence"), status),
        confidence=percent(row.get("confidence")) if food_id and not heading else "",
        status=status,
        reason=_text(row.get("reason")),
        kcal=amount(kcal, "kcal"),
        share=None if share is None else round(100 * max(min(share, 1.0), 0.0), 1),
        share_text=percent(share) if share is not None else "–",
        note=words.ROLE.get(_text(row.get("role")), ""),
        others=words.listing(others, 3),
        anchor=_line_anchor(int(row["line_no"])),
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
        if _text(row.get("description")):
            out.setdefault(row["text"], []).append(_text(row["description"]))
    return out


def _servings(servings: Any, word: str) -> str:
    if not known(servings):
        return "servings not said"
    return words.servings_word(float(servings), word)


def _weight(facts: Row) -> str:
    if not known(facts.get("weight_g")):
        return ""
    kind = {"yield": "cooked weight as given", "summed": "weight of the lines, raw"}
    how = kind.get(_text(facts.get("weight_basis")), "")
    return f"{number(facts['weight_g'])} g ({how})" if how else f"{number(facts['weight_g'])} g"


def _where(source: Any, line: Any, recipe_id: str = "") -> str:
    name = _text(source)
    name = "standard input" if name == "-" else name
    return place(name, int(line) if known(line) else None, recipe_id)


# --- spoken scripts ---------------------------------------------------------------------------


def _line_anchor(line_no: int) -> str:
    return f"l{line_no}"


def _scripts(
    result: Result, titles: dict[str, str], hrefs: dict[str, str]
) -> tuple[list[tuple[str, ScriptView]], dict[tuple[str, int], tuple[str, str]]]:
    """Scripts with their hrefs; and (recipe_id, line_no) → when it was said and that anchor."""
    if result.scripts.empty:
        return [], {}
    rows: dict[str, list[Row]] = {}
    for row in records(result.script_marks):
        rows.setdefault(row["source"], []).append(row)
    line = result.collection.line
    texts = dict(
        zip(zip(line["recipe_id"], line["line_no"], strict=True), line["text"], strict=True)
    )

    def link(mark: Mark) -> str:
        for target in mark.targets:
            page = hrefs.get(target.recipe_id)
            if page:
                no = target.line_no
                return page if no is None else f"{page}#{_line_anchor(no)}"
        return ""

    def title(mark: Mark) -> str:
        return mark_title(mark, titles, texts)

    def recipe(recipe_id: str) -> tuple[str, str]:
        return titles.get(recipe_id, recipe_id), hrefs.get(recipe_id, "")

    out: list[tuple[str, ScriptView]] = []
    said: dict[tuple[str, int], tuple[str, str]] = {}
    room = MOST_SCRIPT_CHARS
    for source, text in zip(result.scripts["source"], result.scripts["text"], strict=True):
        room -= len(text)
        if len(out) == MOST_SCRIPTS or (out and room < 0):
            break
        shown = script_view(source, text, rows.get(source, []), link, title, recipe)
        anchor = f"s-{len(out) + 1}"
        out.append((anchor, shown))
        for mark in sorted(shown.marks, key=lambda m: m.kind != "ingredient"):
            for target in mark.targets:
                if target.line_no is not None:
                    said.setdefault(
                        (target.recipe_id, target.line_no),
                        (short_time(mark.seconds), f"{anchor}-{mark.number}"),
                    )
    return out, said


def _folded(result: Result, scripts: list[tuple[str, ScriptView]]) -> pd.DataFrame:
    """Problems, with the anchor of a script where several of one kind share one row."""
    named = {shown.source: anchor for anchor, shown in scripts}
    folded = fold_alike(result.problems, named)
    where = folded["source"].map(named).astype("object").where(folded["folded"], "")
    return folded.assign(anchor=where).drop(columns="folded")


# --- the collection ---------------------------------------------------------------------------


def _review(result: Result, titles: dict[str, str], hrefs: dict[str, str]) -> list[Row]:
    """Lines to look at, equal texts together, by the energy that is really open; trivial ones last."""
    is_open, whole = open_kcal(result), energy_of(result)
    merged: dict[str, Row] = {}
    for row in records(result.to_review):
        text, recipe_id = _text(row["text"]), row["recipe_id"]
        entry = merged.setdefault(
            text_key(text),
            {
                "text": text,
                "food": _text(row["description"]) or "no food found",
                "confidence": percent(row["confidence"]) if row["food_id"] else "",
                "why": _text(row["why"]),
                "open": 0.0,
                "share": 0.0,
                "recipes": [],
            },
        )
        kcal, total = is_open.get((recipe_id, int(row["line_no"])), 0.0), whole.get(recipe_id)
        entry["open"] += kcal
        if total is not None and known(total) and total > 0:
            entry["share"] = max(entry["share"], min(kcal / total, 1.0))
        entry["recipes"].append((titles.get(recipe_id, recipe_id), hrefs.get(recipe_id, "")))
    out = sorted(merged.values(), key=lambda e: (-e["open"], e["text"]))[:MOST_REVIEW]
    for entry in out:
        entry["open_text"] = amount(entry["open"], "kcal")
        entry["share_text"] = percent(entry["share"]) if entry["share"] else ""
        entry["recipes"] = list(dict.fromkeys(entry["recipes"]))
        entry["more"] = max(len(entry["recipes"]) - 3, 0)
        entry["recipes"] = entry["recipes"][:3]
    return out


_INDEXED = ("kcal", "protein_g", "carbs_g", "fat_g")


def _index(
    result: Result, ordered: pd.DataFrame, numbers: dict[str, int], hrefs: dict[str, str]
) -> list[Entry]:
    verdict = {
        (r, n): v
        for r, n, v in zip(
            result.findings["recipe_id"], result.findings["nutrient"], result.findings["verdict"],
            strict=True,
        )
    }  # fmt: skip
    net = {
        r: (s, c)
        for r, n, s, c in zip(
            result.findings["recipe_id"], result.findings["nutrient"], result.findings["stated"],
            result.findings["computed"], strict=True,
        )
        if n == words.NET_CARBS
    }  # fmt: skip
    best = result.best_explanations()
    out = []
    for row in records(ordered):
        recipe_id = row["recipe_id"]
        cells = []
        for column in _INDEXED:
            stated, computed = row[f"{column}_stated"], row[f"{column}_computed"]
            judged = verdict.get((recipe_id, column), "")
            if column == "carbs_g" and not known(stated) and recipe_id in net:
                judged = verdict.get((recipe_id, words.NET_CARBS), "")
                stated, computed = net[recipe_id]
            unit = unit_of(column)
            cells.append((column, number(stated, unit), number(computed, unit), judged))
        out.append(
            Entry(
                href=hrefs.get(recipe_id, ""),
                number=numbers[recipe_id],
                title=_text(row["title"]) or recipe_id,
                where=_text(row["source"]),
                verdict=row["verdict"],
                word=words.verdict_word(row["verdict"]),
                coverage=percent(row["coverage"]),
                cells=cells,
                saying=_text(best.get(recipe_id)),
                accepted=_text(row.get("accepted")),
            )
        )
    return out


# --- frames to plain rows ---------------------------------------------------------------------


def _of(frame: pd.DataFrame, ids: set[str]) -> pd.DataFrame:
    return frame[frame["recipe_id"].isin(ids)] if "recipe_id" in frame.columns else frame


def _grouped(frame: pd.DataFrame, ids: set[str]) -> dict[str, list[Row]]:
    return by_recipe(_of(frame, ids))


def _sentence_case(text: str) -> str:
    return text[:1].upper() + text[1:]


def _figure(value: Any) -> float:
    return float(value) if known(value) else math.nan


def _text(value: Any) -> str:
    return "" if value is None or value != value else str(value)
