"""report.html as a document: self-contained, escaped, named parts, the right words."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Callable
from html import unescape
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from pipeline.problems import Problem
from pipeline.report import words
from pipeline.report.page import hide_energy, render
from pipeline.report.view import MOST_OPEN, MOST_SECTIONS, View, view
from pipeline.run import Result

EVIL = "<img src=x onerror=alert(1)>\"'</script><script>alert(2)</script>{{7*7}}&amp;"


class Page(HTMLParser):
    """Elements with their attributes, ids, and the text of scripts."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.scripts: list[str] = []
        self._script = False
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        self._script = tag == "script"

    def handle_data(self, data: str) -> None:
        if self._script:
            self.scripts.append(data)
            self._script = False

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [a for t, a in self.elements if t == tag]


@pytest.fixture
def page(collection: Result) -> Page:
    return Page(render(collection))


def test_nothing_is_fetched(page: Page) -> None:
    for tag, attributes in page.elements:
        for name in ("src", "href", "data", "poster", "action", "srcset"):
            value = attributes.get(name)
            if value is not None:
                assert value.startswith("#"), (tag, name, value)
        assert not [n for n in attributes if n.startswith("on")], (tag, attributes)
    assert not page.all("link")
    assert not page.all("iframe")
    assert not page.all("img")


def test_the_policy_allows_the_one_script_by_its_hash(page: Page) -> None:
    policy = next(m["content"] for m in page.all("meta") if m.get("http-equiv"))
    assert policy is not None
    assert len(page.scripts) == 1
    digest = base64.b64encode(hashlib.sha256(page.scripts[0].encode()).digest()).decode()
    assert f"script-src 'sha256-{digest}'" in policy
    assert policy.startswith("default-src 'none'")
    assert "'unsafe-eval'" not in policy


def test_hostile_text_stays_text(make: Callable[..., Result]) -> None:
    spec = [("a", EVIL, EVIL, "disagrees",
             {"kcal": (900.0, 300.0, 290.0, 310.0, 30.0, "disagrees")})]  # fmt: skip
    result = make(
        spec,
        texts={"a": [EVIL, "javascript:alert(3)"]},
        problems=[Problem(EVIL, EVIL, EVIL, EVIL, source=EVIL, recipe_id="a", text=EVIL)],
        explanations=[("a", 1, EVIL, 1, 0.9, EVIL, 1.0, 1.0, 1.0, 1.0, 1.0, "per_serving")],
    )
    for frame in ("claims", "corrected", "checks"):
        table = getattr(result, frame)
        setattr(result, frame, table.assign(**{c: EVIL for c in table.columns if c != "recipe_id"}))
    result.to_review = result.to_review.assign(why=EVIL, text=EVIL, description=EVIL)
    html = render(result, pages={EVIL: "creators/a"}, creator=EVIL)
    found = Page(html)
    assert len(found.scripts) == 1
    assert not found.all("img")
    assert "<script>alert" not in html
    assert "49" not in re.findall(r"onerror=alert\(1\).{0,120}", html)[0]
    assert html.count("&lt;img src=x onerror=alert(1)&gt;") > 10


def test_every_id_is_there_once_and_every_link_leads_to_one(page: Page) -> None:
    ids = [a["id"] for _, a in page.elements if a.get("id")]
    assert len(ids) == len(set(ids))
    for attributes in page.all("a"):
        assert (attributes["href"] or "")[1:] in ids


def test_landmarks_headings_tables_and_pictures_have_names(page: Page) -> None:
    tags = [t for t, _ in page.elements]
    assert [tags.count(t) for t in ("main", "footer", "h1")] == [1, 1, 1]
    assert page.all("html")[0]["lang"] == "en"
    assert page.all("a")[0]["href"] == "#main"  # the skip link comes first
    levels = [int(t[1]) for t in tags if re.fullmatch(r"h[1-6]", t)]
    assert all(b - a <= 1 for a, b in pairwise(levels))
    for attributes in page.all("th"):
        assert attributes.get("scope") in ("col", "row")
    named = [a for a in page.all("table") if a.get("aria-labelledby") or a.get("aria-label")]
    assert tags.count("table") == tags.count("caption") + len(named)
    for _, attributes in page.elements:
        if attributes.get("role") == "img":
            assert attributes.get("aria-label")
    for attributes in page.all("svg"):
        assert attributes.get("aria-hidden") == "true"


def test_the_page_says_what_was_found(collection: Result) -> None:
    html = render(collection)
    text = " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split())
    assert "1 of 4 recipes states numbers its ingredients do not add up to" in text
    assert "kilojoules" in text
    assert "full of fibre" in text
    assert "not decidable" in text
    assert "A food table (28)" in text
    assert "the amount can be read two ways" in text
    for topic, statement in words.CAUTIONS:
        assert topic in text
        assert " ".join(statement.split()) in text


def test_pictures_say_in_words_what_they_show(collection: Result) -> None:
    shown = view(collection)
    dal = next(r for r in shown.recipes if r.recipe_id == "dal")
    energy = dal.gauges[0]
    alt = energy.alt.replace("\u00a0", " ")
    assert alt == (
        "Energy, per serving: stated 1,800 kcal; the lines add up to 430 kcal; likely between 405"
        " and 455 kcal; allowed from 1,740 to 1,860 kcal. Disagrees."
    )
    assert energy.stated is not None
    assert energy.computed is not None
    assert energy.range is not None
    assert energy.band is not None
    assert 0 <= energy.computed < energy.stated <= 100
    assert energy.band[0] < energy.stated < energy.band[0] + energy.band[1]
    assert energy.range[0] < energy.computed < energy.range[0] + energy.range[1]


@pytest.mark.parametrize(
    ("numbers", "shown"),
    [
        ((0.0, 0.0, 0.0, 0.0, 2.0), "the same as the sum"),
        ((5.0, 0.0, 0.0, 0.0, 2.0), "5 g above the sum"),
        ((10.0, 20.0, 18.0, 22.0, 2.0), "10 g (50 %) below the sum"),
        ((50.0, 20.0, 18.0, 22.0, 2.0), "2.5 times the sum"),
        ((5.0, float("nan"), float("nan"), float("nan"), float("nan")), ""),
    ],
)
def test_odd_numbers_find_their_place_on_the_beam(
    make: Callable[..., Result], numbers: tuple[float, ...], shown: str
) -> None:
    spec = [("a", "A", "", "agrees", {"protein_g": (*numbers, "agrees")})]
    gauge = view(make(spec)).recipes[0].gauges[0]
    assert gauge.difference.replace("\u00a0", " ") == shown
    for place in (gauge.stated, gauge.computed):
        assert place is None or 0 <= place <= 100


def test_a_one_sided_rule_is_drawn_on_one_side(make: Callable[..., Result]) -> None:
    inf = float("inf")
    spec = [("a", "A", "", "agrees", {"kcal": (500.0, 400.0, 390.0, 410.0, inf, "agrees")})]
    gauge = view(make(spec, profile="us")).recipes[0].gauges[0]
    assert gauge.band is None
    assert gauge.allowed_text == "any difference to this side"


def test_a_large_collection_keeps_the_page_small_and_says_so(make: Callable[..., Result]) -> None:
    good = {"kcal": (310.0, 305.0, 290.0, 320.0, 35.0, "agrees")}
    bad = {"kcal": (610.0, 305.0, 290.0, 320.0, 35.0, "disagrees")}
    many = [
        (f"r{n}", f"Recipe {n}", "", "disagrees" if n % 10 == 0 else "agrees",
         bad if n % 10 == 0 else good)
        for n in range(MOST_SECTIONS * 2)
    ]  # fmt: skip
    result = make(many, explanations=[])
    shown = view(result)
    assert {r.verdict for r in shown.recipes} == {"disagrees"}
    assert len(shown.recipes) == MOST_SECTIONS * 2 // 10
    assert len(shown.recipes) + shown.sections_left_out == len(many)
    assert len(shown.open_anchors) == MOST_OPEN
    html = render(result)
    assert f"The other {shown.sections_left_out}" in html
    assert "recipes.csv" in html
    assert len(html) < 3_000_000


def test_one_recipe_and_none_at_all(make: Callable[..., Result]) -> None:
    assert "No recipe was found" in render(make([]))
    spec = [("a", "A", "", "agrees", {"kcal": (300.0, 305.0, 290.0, 320.0, 35.0, "agrees")})]
    assert "The recipe states what its ingredients add up to" in render(make(spec))


@pytest.mark.parametrize(
    ("counts", "headline"),
    [
        ((0, 0, 5, 0), "All 5 recipes that could be judged state what their ingredients add up to"),
        ((3, 1, 5, 0), "3 of 9 recipes state numbers their ingredients do not add up to"),
        ((0, 2, 5, 1), "No recipe disagrees with its ingredients; 2 of 8 stay open"),
        ((0, 0, 0, 4), "No recipe could be judged"),
    ],
)
def test_the_headline(counts: tuple[int, int, int, int], headline: str) -> None:
    from pipeline.report.view import _headline

    names = ("disagrees", "uncertain", "agrees", "not_judged")
    assert _headline(dict(zip(names, counts, strict=True))) == headline


def test_amounts_of_energy_in_sentences_can_be_hidden() -> None:
    hidden = hide_energy("gives 1,987 kJ & 475 kcal, 5 g protein; 100 kcalm")
    assert str(hidden) == (
        'gives <span class="e">1,987 kJ</span> &amp; <span class="e">475 kcal</span>, 5 g protein;'
        " 100 kcalm"
    )


def test_the_same_result_gives_the_same_page(
    collection: Result, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "0")
    assert render(collection) == render(collection)
    assert "1970-01-01" in render(collection)


def contrast(a: str, b: str) -> float:
    """WCAG 2.2 contrast ratio of two #rrggbb colours."""

    def light(colour: str) -> float:
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
        return 0.2126 * r + 0.7152 * g + 0.0722 * b

    low, high = sorted((light(a), light(b)))
    return (high + 0.05) / (low + 0.05)


def test_contrast_reaches_aa_in_light_dark_and_on_paper() -> None:
    """4.5:1 for text: WCAG 2.2, success criterion 1.4.3. Black on white is 21:1 by definition."""
    from pipeline.report.page import _asset

    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    css = _asset("report.css")
    blocks = re.findall(r":root \{(.*?)\}", css, flags=re.DOTALL)
    assert len(blocks) == 3
    base = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", blocks[0]))
    for block in blocks:
        p = {**base, **dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", block))}
        for name in ("ink", "muted", "link", "brass", "agrees", "uncertain", "disagrees",
                     "unjudged"):  # fmt: skip
            for under in ("page", "panel", "sunk"):
                assert contrast(p[name], p[under]) >= 4.5, (name, under)
        for name in ("agrees", "uncertain", "disagrees", "unjudged"):
            assert contrast(p[name], p[f"{name}-soft"]) >= 4.5, name


def test_the_view_knows_every_verdict(collection: Result) -> None:
    from pipeline.tables import VERDICTS

    shown: View = view(collection)
    assert set(words.VERDICT) == set(VERDICTS)
    assert {e.verdict for e in shown.index} == set(VERDICTS)
