"""Kinds of padding, and the readers that have to take them in a time that grows with their length.

A padding is a function of a number of characters; a reader is a function of a padding that puts it
where it hurts in a text of its kind, and reads that text.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

from growth import cpu_seconds

from pipeline.intake.documents.rich_text import read_rich_text
from pipeline.intake.reading import read_text
from pipeline.intake.servings import read_yield
from pipeline.intake.stated_line import all_found
from pipeline.lines import parse
from pipeline.memory import load_decisions, load_pantry
from pipeline.problems import SteelyardError
from pipeline.settings import load_settings

Padding = Callable[[int], str]


def _of(unit: str, before: str = "", after: str = "") -> Padding:
    return lambda n: before + unit * max(n // len(unit), 1) + after


#: What a text may be padded with; each gives about so many characters.
PADDINGS: dict[str, Padding] = {
    "blank lines": _of("\n"),
    "lines of spaces": _of("   \n"),
    "spaces": _of(" "),
    "tabs": _of("\t"),
    "no-break spaces": _of("\u00a0"),
    "open brackets": _of("["),
    "open round brackets": _of("("),
    "closed brackets": _of("]"),
    "links": _of("[a]("),
    "images": _of("![]("),
    "stars": _of("*"),
    "starred letters": _of("**a"),
    "underscores": _of("_a"),
    "hashes": _of("#"),
    "rules": _of("---\n"),
    "unclosed front matter": _of("key: value\n", "---\n"),
    "quotes": _of('"'),
    "open quotes": _of('x,"y\n'),
    "commas": _of(","),
    "pipes": _of("| "),
    "rows of a table": _of("| a | b |\n"),
    "open braces": _of("{"),
    "colons": _of("a: "),
    "dashes": _of("- "),
    "digits": _of("9"),
    "fractions": _of("1/"),
    "open tags": _of("<a "),
    "tags": _of("<b>x"),
    "ampersands": _of("&amp;"),
    "letters": _of("a"),
    "words": _of("very "),
    "lines of words": _of("and then some\n"),
    "headings": _of("## For the sauce\n"),
    "ingredients": _of("100 g rice\n"),
    "numbers and units": _of("100 g "),
    "stated numbers": _of("412 kcal, "),
    "times": _of("00:00:01,000 --> 00:00:02,000\n"),
    "backslashes": _of("\\"),
    "combining marks": _of("\u0301"),
    "semicolons": _of("; "),
}

CARD = "Soup\nServes 4\n\n100 g rice\n{}2 eggs\n\nPer serving: 412 kcal, P 32 g\n"
PAGE = (
    '<html><body><script type="application/ld+json">{"@type": "Recipe", "name": "Soup"}</script>'
    '<div itemscope itemtype="https://schema.org/Recipe"><p itemprop="name">Soup</p>{}</div></body></html>'
)
TALK = (
    "so today we are making a lentil soup and you will need two hundred grams of lentils and {} "
    "one onion chopped and a tablespoon of oil and that comes to four hundred calories a serving"
)


def _file(name: str, text: str) -> Callable[[str], object]:
    return lambda padding: read_text(text.replace("{}", padding), name)


def _on_disk(name: str, text: str, read: Callable[[Path], object]) -> Callable[[str], object]:
    def one(padding: str) -> object:
        with TemporaryDirectory() as folder:
            path = Path(folder) / name
            path.write_text(text.replace("{}", padding), encoding="utf-8")
            return read(path)

    return one


def _rich(path: Path) -> object:
    return read_rich_text(path, path.name)


def _settings(path: Path) -> object:
    try:
        return load_settings(path.parent)
    except SteelyardError as fault:
        return fault.problem


def _table(text: str) -> Callable[[str], object]:
    from pipeline.intake.files import SourceFile
    from pipeline.intake.reading import read_file

    return _on_disk("t.csv", text, lambda path: read_file(SourceFile(path, path.name, True)))


READERS: dict[str, Callable[[str], object]] = {
    "card": _file("a.txt", CARD),
    "card, within a line": _file("a.txt", CARD.replace("2 eggs", "2 {} eggs").replace("{}2", "2", 1)),
    "card, at its top": _file("a.txt", "{}\n" + CARD.replace("{}", "")),
    "card, at its end": _file("a.txt", CARD.replace("{}", "") + "{}"),
    "Markdown": _file("a.md", "# " + CARD),
    "Markdown, at its top": _file("a.md", "{}\n# " + CARD.replace("{}", "")),
    "YAML": _file("a.yaml", "title: Soup\nservings: 4\nnote: x {}\ningredients:\n- 100 g rice\n"),
    "YAML, at its top": _file("a.txt", "{}\ntitle: Soup\ningredients:\n- 100 g rice\n"),
    "JSON": _file("a.json", '{"title": "Soup", "servings": "4 {}", "ingredients": ["100 g rice {}"]}'),
    "JSON, after it": _file("a.json", '{"title": "Soup", "ingredients": ["100 g rice"]}{}'),
    "JSON lines": _file("a.jsonl", '{"title": "Soup", "ingredients": ["1 egg"]}\n{}\n'),
    "XML": _file("a.xml", "<pot><says>Soup {}</says><of>100 g rice</of><of>1 egg</of><kcal>400</kcal></pot>"),
    "XML, its attributes": _file("a.xml", "<pot says='Soup'><of>100 g rice</of><of much='1 {}'>egg</of></pot>"),
    "rich text": _on_disk("a.rtf", "{\\rtf1 Soup\\par Serves 4\\par 100 g rice {}\\par 1 egg}", _rich),
    "page": _file("a.html", PAGE),
    "page, its tables": _file("a.html", "<html><body><p>Soup</p><table><tr><th>Food</th><th>g</th></tr>"
                              "<tr><td>rice</td><td>100</td></tr><tr><td>egg {}</td><td>50</td></tr></table></body></html>"),
    "rows within JSON": _file("a.json", '{"rows": [["food", "g"], ["rice", 100], ["egg {}", 50], ["oil", 5]]}'),
    "page, within a script": _file("a.html", PAGE.replace('"Soup"', '"Soup {}"', 1).replace("Soup</p>{}", "Soup</p>")),
    "captions (srt)": _file("a.srt", "1\n00:00:01,000 --> 00:00:09,000\n" + TALK + "\n"),
    "captions (vtt)": _file("a.vtt", "WEBVTT\n\n00:01.000 --> 00:09.000\n" + TALK + "\n"),
    "talk": _file("a.txt", TALK),
    "CSV": _table("title,servings,line\nSoup,4,100 g rice\nSoup,4,2 eggs {}\nStew,2,1 egg\n"),
    "CSV, a quote before": _table('title,servings,line\nSoup,4,"100 g rice\n{}\nStew,2,1 egg\n'),
    "CSV, its header": _table("title,servings,line{}\nSoup,4,100 g rice\n"),
    "pantry.csv": _on_disk("pantry.csv", "food_name,serving_g,kcal\nOats,40,150\n{}\nRye,40,140\n", load_pantry),
    "pantry.yaml": _on_disk("pantry.yaml", "foods:\n- food_name: Oats {}\n  serving_g: 40\n  kcal: 150\n", load_pantry),
    "decisions.csv": _on_disk("decisions.csv", "text,food_id,grams\n1 egg,none,\n{}\n2 eggs,none,\n", load_decisions),
    "settings": _on_disk("steelyard.toml", 'profile = "eu"\n{}\n', _settings),
    "a line": lambda padding: parse("100 g rice " + padding),
    "a line, its start": lambda padding: parse(padding + " rice"),
    "stated numbers": lambda padding: all_found(("Per serving: 412 kcal " + padding)[:2000]),
    "servings": lambda padding: read_yield("Serves 4 " + padding),
}  # fmt: skip


def seconds(reader: str, padding: str, n: int) -> float:
    """Processor time of one reading; the padding's making is not counted."""
    text = PADDINGS[padding](n)
    return cpu_seconds(lambda: READERS[reader](text))
