"""The drift as one self-contained page: no script, no network, light and dark."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pipeline.refresh.drift import Drift

_PAGE = """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>What moved with the nutrient table</title>
<style>
:root { color-scheme: light dark; --line: #8886; --soft: #8881; }
body { font: 16px/1.5 system-ui, sans-serif; max-width: 72rem; margin: 2rem auto; padding: 0 1rem; }
h1 { font-size: 1.6rem; } h2 { font-size: 1.2rem; margin-top: 2rem; }
.scroll { overflow-x: auto; }
table { border-collapse: collapse; width: 100%; font-size: .92rem; }
th, td { text-align: left; padding: .3rem .6rem; border-bottom: 1px solid var(--line);
         vertical-align: top; }
td.n, th.n { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }
caption { text-align: left; padding: .3rem 0; }
.flip { font-weight: 600; }
</style>
</head>
<body>
<main>
<h1>What moved with the nutrient table</h1>
<p>{{ told.recipes }} recipes, computed with <b>{{ told.before }}</b> ({{ before_release }}) and with
<b>{{ told.after }}</b> ({{ after_release }}).</p>
{% if nothing %}
<p>Nothing that these recipes use changed.</p>
{% else %}
<ul>
<li>{{ told.verdicts_flipped }} recipes with another verdict</li>
<li>{{ told.recipes_moved }} recipes with other totals</li>
<li>{{ told.foods_changed }} foods in use with other values</li>
<li>{{ told.lines_changed }} lines that mean another food or weigh otherwise</li>
<li>{{ told.decisions_lost }} remembered answers that point to foods which are gone</li>
</ul>
{% for section in sections if section.rows %}
<h2 id="{{ section.id }}">{{ section.title }}</h2>
<p>{{ section.says }}{% if section.more %} The first {{ section.rows | length }} of
{{ section.rows | length + section.more }} are shown; all stand in {{ section.file }}.{% endif %}</p>
<div class="scroll" tabindex="0" role="region" aria-labelledby="{{ section.id }}">
<table>
<thead><tr>{% for head, number in section.heads %}
<th scope="col"{% if number %} class="n"{% endif %}>{{ head }}</th>{% endfor %}</tr></thead>
<tbody>
{% for row in section.rows %}<tr>{% for cell in row %}
<td{% if section.heads[loop.index0][1] %} class="n"{% endif %}>{{ cell }}</td>{% endfor %}</tr>
{% endfor %}</tbody>
</table>
</div>
{% endfor %}
{% endif %}
</main>
</body>
</html>
"""
_MOST = 200


def _figure(value: object, digits: int = 1, sign: bool = False) -> str:
    """A number for reading; an absent one is a dash."""
    if value is None or value != value:
        return "–"
    return f"{float(str(value)):{'+' if sign else ''},.{digits}f}"


def drift_page(found: Drift) -> str:
    """The page as HTML text; every value from a file is escaped."""
    from jinja2 import Environment

    moved = found.recipes[found.recipes["nutrient"] != ""]
    sections: list[dict[str, Any]] = [
        {
            "id": "verdicts", "file": "drift_recipes.csv", "title": "Verdicts that flipped",
            "says": "What was stated stands differently against the new table.",
            "heads": [("Recipe", False), ("Of", False), ("Before", False), ("Now", False)],
            "all": [
                (r["title"], r["nutrient"] or "the recipe", r["verdict_before"] or "–",
                 r["verdict_after"] or "–")
                for r in found.flips.to_dict("records")
            ],
        },
        {
            "id": "recipes", "file": "drift_recipes.csv", "title": "Totals that moved",
            "says": "Computed per serving.",
            "heads": [("Recipe", False), ("Nutrient", False), ("Before", True), ("Now", True),
                      ("Change", True), ("%", True)],
            "all": [
                (r["title"], r["nutrient"], _figure(r["before"]), _figure(r["after"]),
                 _figure(r["change"], sign=True), _figure(r["change_pct"], sign=True))
                for r in moved.to_dict("records") if r["before"] == r["before"]
            ],
        },
        {
            "id": "foods", "file": "drift_foods.csv", "title": "Foods that changed",
            "says": "Per 100 g; only foods that the collection uses.",
            "heads": [("Food", False), ("Id", False), ("From", False), ("Value", False),
                      ("Before", True), ("Now", True), ("%", True), ("Lines", True), ("State", False)],
            "all": [
                (r["description"], r["food_id"], r["food_source"], r["nutrient"], _figure(r["before"], 2),
                 _figure(r["after"], 2), _figure(r["change_pct"], sign=True), r["lines"],
                 f"{r['state']} {r['replaces']}".strip())
                for r in found.foods.to_dict("records")
            ],
        },
        {
            "id": "lines", "file": "drift_lines.csv", "title": "Lines that mean another food",
            "says": "The words are the same; the table offers another food or another measure.",
            "heads": [("Line", False), ("Before", False), ("From", False), ("g", True),
                      ("Now", False), ("From", False), ("g", True)],
            "all": [
                (r["text"], r["description_before"] or "–", r["source_before"],
                 _figure(r["grams_before"]), r["description_after"] or "–", r["source_after"],
                 _figure(r["grams_after"]))
                for r in found.lines.to_dict("records")
            ],
        },
        {
            "id": "decisions", "file": "drift_decisions.csv", "title": "Remembered answers to renew",
            "says": "They point to foods that the new table lacks.",
            "heads": [("Text", False), ("Food it meant", False), ("Id", False), ("From", False)],
            "all": [
                (r["text"], r["description"], r["food_id"], r["food_source"])
                for r in found.decisions.to_dict("records")
            ],
        },
    ]  # fmt: skip
    for section in sections:
        rows = section.pop("all")
        section["rows"], section["more"] = rows[:_MOST], max(len(rows) - _MOST, 0)
    return (
        Environment(autoescape=True)
        .from_string(_PAGE)
        .render(
            told=found.summary(),
            before_release=found.before.release,
            after_release=found.after.release,
            nothing=found.nothing,
            sections=sections,
        )
    )
