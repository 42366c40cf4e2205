"""One file into recipes: which reader takes it, by its ending and what is inside."""

from __future__ import annotations

import math
import os
import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

from pipeline.csv_rows import split_lines
from pipeline.intake import documents, files
from pipeline.intake.facts_line import titled_yield
from pipeline.intake.files import SourceFile
from pipeline.intake.model import RawRecipe, Read, cut
from pipeline.intake.pages.schema_org import set_yield
from pipeline.intake.patterns import pattern
from pipeline.intake.spoken import cards as script_cards
from pipeline.intake.text.card import read_cards
from pipeline.intake.text.evidence import UNTITLED, sound, understood, worth
from pipeline.intake.text.features import known_food, names_food
from pipeline.intake.text.line_kinds import BULLET, looks_like_ingredient
from pipeline.intake.text.mail import mail_body
from pipeline.intake.text.plain_lines import card_lines, is_chat, words_sent
from pipeline.problems import Problem, input_problem, is_of_the_input

_JSON_ENDINGS = frozenset({".json", ".jsonld", ".jsonl", ".ndjson"})
_YAML_ENDINGS = frozenset({".yaml", ".yml"})
_TABLE_ENDINGS = frozenset({".csv", ".tsv", ".tab"})
_MARKDOWN_ENDINGS = frozenset({".md", ".markdown", ".mdown", ".mkd"})
_PAGE_ENDINGS = frozenset({".html", ".htm", ".xhtml", ".mhtml"})
_HTML = re.compile(r"<(?:!doctype\s+html|html|head|body|script|div|meta|article|main|p|h1)\b", re.I)
_IS_PAGE = re.compile(r"<(?:!doctype\s+html|html)\b", re.I)
_YAML_INGREDIENTS = re.compile(r"^ingredients:", re.MULTILINE)
_YAML_LIKE = re.compile(
    r"(?:#[^\n]*\n|[ \t]*\n|---[ \t]*\n)*"
    r"(?:(?:title|name|id|servings|creator|description|ingredients)[ \t]*:"
    r"|-[ \t]+(?:title|name|id)[ \t]*:)"
)


def read_file(file: SourceFile) -> Read:
    """Read one file by what it holds; never raises. No recipe in it is a problem of its own."""
    try:
        size = os.stat(file.path).st_size
        with open(file.path, "rb") as handle:
            head = handle.read(files.SNIFF_BYTES)
            special = by_ending(file, head)
            if special is not None:
                return with_source(special, file.source)
            if (refused := _too_large(file, head, size)) is not None:
                return refused
            data = head if size <= len(head) else head + handle.read(files.MAX_JSON_BYTES)
    except OSError as fault:
        why = fault.strerror or str(fault)
        problem = input_problem(
            "file-unreadable/open", source=file.source, file=file.path.name, why=why
        )
        return Read(problems=[problem])
    read, _ = read_data(file, data)
    if file.source.endswith(script_cards.ENDING):
        script_cards.own_ids(read, file.source)
    return read


def read_data(file: SourceFile, data: bytes, *, stored: bool = True) -> tuple[Read, str]:
    """What a text file of these bytes gives, and its text.

    ``stored``: they are those of the file at ``file.path``.
    """
    text, problems = files.decode(data, file.source)
    try:
        read = read_decoded(file, text, data if stored else None)
    except Exception as fault:
        read = Read(problems=[stumbled(fault, file.source)])
    read.problems[:0] = problems
    nothing_found(read, file, text)
    return with_source(read, file.source), text


def stumbled(fault: Exception, source: str) -> Problem:
    """The problem of a file over which its reader stumbled; it costs that file alone."""
    if isinstance(fault, (RecursionError, MemoryError)):
        return input_problem("file-too-deep", source=source, why=type(fault).__name__)
    if not is_of_the_input(fault) and not isinstance(fault, OSError):
        raise fault
    return input_problem(
        "file-unreadable", source=source, kind=type(fault).__name__, said=str(fault)[:120]
    )


def read_text(text: str, source: str) -> Read:
    """Read a text whose file is not at hand."""
    return read_decoded(SourceFile(Path(source), source, named=True), text, None)


def with_source(read: Read, source: str) -> Read:
    read.problems = [p if p.source else replace(p, source=source) for p in read.problems]
    return read


def _too_large(file: SourceFile, head: bytes, size: int) -> Read | None:
    """Why a text is not read: it is larger than any of its kind; None when it is not."""
    table = file.path.suffix.lower() in _TABLE_ENDINGS
    json = head.lstrip(b"\xef\xbb\xbf \t\r\n")[:1] in (b"{", b"[")
    limit = files.MAX_JSON_BYTES if json or table else files.MAX_TEXT_BYTES
    if size <= limit or table:
        return None
    problem = input_problem(
        "file-too-large", source=file.source, size=size / files.MIB, limit=limit / files.MIB
    )
    return Read(problems=[problem])


def by_ending(file: SourceFile, head: bytes) -> Read | None:
    """Files that are no text: empty, Parquet, a spreadsheet, or unreadable."""
    if not head.strip():
        problem = input_problem("file-empty", source=file.source, file=file.path.name)
        return Read(problems=[problem])
    read: Read | None = None
    if head.startswith(b"PAR1"):
        from pipeline.intake.tables.table import read_parquet

        read = read_parquet(file.path, file.source)
    elif document := documents.kind_of(file.path, head):
        try:
            read = documents.read_document(file.path, file.source, document)
        except Exception as fault:
            return Read(problems=[stumbled(fault, file.source)])
    elif head.startswith(b"PK\x03\x04") and file.path.suffix.lower() in (".xlsx", ".xlsm"):
        from pipeline.intake.tables.sheet import read_sheet

        read = read_sheet(file.path, file.source)
    if read is not None:
        nothing_found(read, file, "")
    elif kind := files.binary_kind(head):
        name = file.path.name
        return Read(
            problems=[input_problem("file-binary", source=file.source, file=name, kind=kind)]
        )
    return read


def read_decoded(file: SourceFile, text: str, data: bytes | None) -> Read:
    """Choose the reader by content first, by ending where the content leaves it open."""
    from pipeline.intake.tables.layout import named_delimiter

    if (mail := mail_body(text, data)) is not None:
        subject, body, kind = mail
        named = replace(file, path=file.path.with_suffix(kind))
        alone, below = (read_decoded(named, t, t.encode()) for t in (body, f"{subject}{body}"))
        wanted = names_food(subject) or any(UNTITLED.match(one.title) for one in alone.recipes)
        return below if wanted and worth(below.recipes) > worth(alone.recipes) else alone
    ending = file.path.suffix.lower()
    start = text.lstrip()
    if start[:1] in ("{", "[") or (ending in _JSON_ENDINGS and start[:1] != "<"):
        read = _read_json(text, file.source, ending)
        if read is not None:
            return read
    if (ending == ".xml" or start.startswith("<?xml")) and not _IS_PAGE.search(start[:4096]):
        from pipeline.intake.structured.documents import read_xml

        return read_xml(text, file.source)
    if ending in _PAGE_ENDINGS or (start[:1] == "<" and _HTML.search(start[:4096])):
        from pipeline.intake.pages.page import read_page

        page = read_page(text, file.source)
        if not page.recipes and not any(p.code == "page-too-deep" for p in page.problems):
            found = documents.read_page_text(text, file.source)
            page.recipes = found.recipes
            page.problems += found.problems
            page.apart = found.apart
        if page.recipes or ending in _PAGE_ENDINGS:
            return page
        card = read_cards(card_lines(text), file.source)  # its title only begins like a tag
        return card if card.recipes else page
    script = _script_kind(start, ending)
    if script:
        from pipeline.intake.spoken.script import read_script

        return read_script(text, kind=script)
    if ending in _TABLE_ENDINGS or (
        ending not in _MARKDOWN_ENDINGS | _YAML_ENDINGS and named_delimiter(text[:65536])
    ):
        from pipeline.intake.tables.table import read_csv

        return read_csv(_lines_of(file, text, data), text[:65536], file.source)
    if ending in _MARKDOWN_ENDINGS or _has_front_matter(text):
        from pipeline.intake.text.markdown import read_markdown

        marked = read_markdown(text, file.source)
        return _of_documents(text, file.source, marked) if ending in _YAML_ENDINGS else marked
    if ending in _YAML_ENDINGS or (ending in ("", ".txt", ".text") and _looks_like_yaml(text)):
        from pipeline.intake.structured.documents import read_yaml

        read = read_yaml(text, file.source)
        if read.recipes or ending in _YAML_ENDINGS:
            return read
    return _read_text(text, file.source)


def _read_text(text: str, source: str) -> Read:
    """A plain text: messages, talk, cards, or entries of several kinds."""
    chat = is_chat(text)
    mixed = None if chat else _read_mixed(text, source)
    if mixed is not None:
        return mixed
    if _runs_on(text) and not chat:
        return _read_running(text, source)
    read = read_cards(card_lines(text), source)
    if chat:
        _title_messages(read.recipes, text.split("\n"))
    listed = not read.recipes or any(one.lines for one in read.recipes)
    return read if listed or chat else _read_running(text, source)  # the list is in a sentence


def _title_messages(recipes: Sequence[RawRecipe], lines: Sequence[str]) -> None:
    """Name recipes of a chat without the talk around the name, or, where what stands for one names no
    dish, by the nearest message above the list that does."""
    from pipeline.intake.spoken.titles import dish_named

    sent = words_sent(lines)
    for recipe in recipes:
        recipe.title = _without_talk(recipe.title)
        lead, _, behind = recipe.title.partition(", ")
        if known_food(behind) and not known_food(lead):
            recipe.title = behind  # "ok my turn, tuna pasta bake"
        first = min((one.source_line for one in recipe.lines if one.source_line), default=0)
        if not first or known_food(recipe.title):
            continue
        above = (
            at for at in range(first - 2, max(first - 2 - _TITLE_MESSAGES, -1), -1) if at in sent
        )
        named = (
            (dish_named(words), at)
            for at in above
            for said in [lines[at][sent[at] :]]
            for words in (said, *said.split(","))
        )
        recipe.title, at = next((one for one in named if one[0]), (recipe.title, -1))
        recipe.source_line = at + 1 if at >= 0 else recipe.source_line


def _read_mixed(text: str, source: str) -> Read | None:
    """A text whose entries, parted by rules, are cards and passages that run on: each read as what it
    is; None for a text of one kind."""
    lines = text.split("\n")
    rules = [at for at, line in enumerate(lines) if pattern("rule").match(line)]
    parts = [
        (begin, end) for begin, end in pairwise((-1, *rules, len(lines)))
        if any(line.strip() for line in lines[begin + 1 : end])
    ]  # fmt: skip
    if len(rules) < _LEAST_RULES or len(parts) < _LEAST_RULES:
        return None
    running = [part for part in parts if _runs_on("\n".join(lines[part[0] + 1 : part[1]]))]
    if not running or len(running) == len(parts):
        return None
    cards = [part for part in parts if part not in running]
    read = read_cards(card_lines(_only(lines, cards)), source)
    for part in running:
        read.recipes += _read_running(_only(lines, [part]), source).recipes
    read.recipes.sort(key=lambda recipe: recipe.source_line or 0)
    for position, recipe in enumerate(read.recipes):
        recipe.position = position
    return read


def _only(lines: Sequence[str], parts: Sequence[tuple[int, int]]) -> str:
    """A text without what stands outside some stretches, every line in its place."""
    kept = {at for begin, end in parts for at in range(begin + 1, end + 1)}
    return "\n".join(line if at in kept else "" for at, line in enumerate(lines))


def _has_front_matter(text: str) -> bool:
    if not text.startswith("---"):
        return False
    from pipeline.intake.text.markdown import front_matter

    return front_matter(text) is not None


def _of_documents(text: str, source: str, marked: Read) -> Read:
    """A file of YAML that begins as the front matter of a text does: as its documents, or as that."""
    from pipeline.intake.structured.documents import read_yaml

    read = read_yaml(text, source)
    return read if worth(read.recipes) >= worth(marked.recipes) and read.recipes else marked


def _without_talk(title: str) -> str:
    """The name of a dish in what a message says of it, by its emphasis or as the one sentence of food.

    >>> _without_talk("I'll start. *Tuna bake"), _without_talk("Gran's lentil soup!! big pot")
    ('Tuna bake', "Gran's lentil soup")
    """
    marked = _MARKED.search(title)
    if marked and known_food(marked[1]):
        return marked[1].strip()
    named = [part for part in _SENTENCES.split(title) if known_food(part)]
    return named[0].strip() if len(named) == 1 else title


def _read_running(text: str, source: str) -> Read:
    """A text of long lines: as speech, unless more of it is borne out when it is read as cards."""
    from pipeline.intake.spoken.script import read_script

    read = read_script(text, kind="script")
    told = bool(read.recipes) and all(one.stated and sound(one) for one in read.recipes)
    timed = _is_timed([line for line in text.split("\n") if line.strip()], _AT)
    talk = timed or _is_talk(text)
    if not (told and talk):
        written = read_cards(card_lines(text), source)
        more = worth(written.recipes) - worth(read.recipes)
        by_lines = not talk and more >= 0 and _says_more(written.recipes, read.recipes)
        listed = bool(written.apart) and not any(one.lines for one in read.recipes)
        borne_out = talk or any(worth([one]) > 0 for one in read.recipes)
        more_each = more > len(read.recipes) and not timed  # by a line a recipe, at the least
        if more_each or by_lines or listed or not borne_out:
            return written
    _title_above(read, text.split("\n"))
    return read


def _says_more(written: Sequence[RawRecipe], spoken: Sequence[RawRecipe]) -> bool:
    """Whether a text read as cards gives each recipe that it gives as speech, with more lines that
    are an amount and a food, or as many of those and more lines."""
    lines = [
        (sum(understood(one)[0] for one in recipes), sum(len(one.lines) for one in recipes))
        for recipes in (written, spoken)
    ]
    whole = all(one.stated and sound(one) for one in written)
    return len(written) == len(spoken) and whole and lines[0] > lines[1]


#: Rules of a text whose entries they part, at least.
_LEAST_RULES = 2
#: "*Tuna bake*", the second mark of which may have gone with what stood behind it.
_MARKED = re.compile(r"(?:^|\s)[*_]{1,2}([^\s*_][^*_]+)(?:[*_]|$)")
#: Where a sentence ends, and not an abbreviation.
_SENTENCES = re.compile(r"(?<=[^\W\d_]{3})[.!?]+(?:\s+|$)")
#: Where the first words of a passage end.
_SAID = re.compile(r"[.,;:!?](?:\s|$)")
_TITLE_WORDS = 6
#: Messages above a list of which one may name its dish.
_TITLE_MESSAGES = 4


def _title_above(read: Read, lines: Sequence[str]) -> None:
    """Give recipes of a script that have no name that of the heading above them, if there is one, or
    what is said first below one that names no food."""
    for recipe, before in zip(read.recipes, [None, *read.recipes], strict=False):
        first = next((one.source_line for one in recipe.lines if one.source_line), 0) or 0
        last = max((one.source_line or 0 for one in before.lines), default=0) if before else 0
        above = [line.strip() for line in lines[last : first - 1]]
        heads = [
            head for head in above if _HEAD.fullmatch(head) and not looks_like_ingredient(head)
        ]
        if heads and UNTITLED.match(recipe.title):
            title, told = titled_yield(heads[-1])
            below = [*above[above.index(heads[-1]) + 1 :], lines[first - 1]]
            said = _SAID.split(next(filter(None, below), ""), 1)[0]
            dish = "" if known_food(title) else titled_yield(said)[0]
            named = known_food(dish) and len(dish.split()) <= _TITLE_WORDS
            recipe.title = dish if named else title.strip("#*_=~:- ")
            if told and math.isnan(recipe.servings):
                set_yield(recipe, told, first)


def _lines_of(file: SourceFile, text: str, data: bytes | None) -> Iterator[str]:
    """Lines of a table; of one larger than what is read as one text, from the file itself."""
    if data is None or len(data) < files.MAX_JSON_BYTES:
        yield from split_lines(text)
        return
    with open(file.path, encoding="utf-8-sig", errors="replace") as handle:
        for line in handle:
            yield line.rstrip("\n")


def _is_talk(text: str) -> bool:
    """Small words are a quarter of the text: nobody writes cards like that."""
    from pipeline.intake.spoken.phrases import word_class

    small, words = word_class("function") | word_class("filler"), text[:200_000].lower().split()
    return 4 * sum(word.strip(".,") in small for word in words) > len(words)


def _looks_like_yaml(text: str) -> bool:
    return bool(_YAML_LIKE.match(text) and _YAML_INGREDIENTS.search(text))


def _read_json(text: str, source: str, ending: str) -> Read | None:
    """None when the text only begins like JSON ("[Sauce]") and its ending promises none."""
    from pipeline.intake.structured.documents import read_json

    read = read_json(text, source)
    refused = not read.recipes and bool(read.problems)
    others = ending in _YAML_ENDINGS or text.lstrip()[:1] != "{"
    return None if refused and ending not in _JSON_ENDINGS and others else read


def _script_kind(start: str, ending: str) -> str:
    """What caption format a text is in, "" for none."""
    if start.startswith("WEBVTT"):
        return "webvtt"
    if ending == ".srt" or re.match(r"\d+\s*\n\d+:\d\d:\d\d[,.]\d{1,3}\s*-->", start):
        return "srt"
    return ""


#: Where a line of a transcript begins: its time and some words, with no message's sender between.
_SAID_AT = re.compile(r"\W{0,2}((?:\d{1,2}:)?\d{1,2}:\d{2})\W{1,4}(?:[^\W\d][\w'’-]*\s+){2}")
#: The same of talk that is no chat: who speaks may stand between.
_AT = re.compile(r"\W{0,2}((?:\d{1,2}:)?\d{1,2}:\d{2})\b")
_LEAST_TIMED = 5
#: A line that is no sentence.
_HEAD = re.compile(r"(?=.*[^\W\d_]{3})(?:\S+\s+){0,9}\S*[^\s.!?,;]")
_INGREDIENTS_LINE = re.compile(r"^[^\w\n]{0,40}ingredients\b.{0,30}$", re.IGNORECASE | re.MULTILINE)


def _runs_on(text: str) -> bool:
    """True for running talk: long lines, amounts in their middle, no list of ingredients."""
    lines = [line for line in text[:200_000].split("\n") if line.strip()]
    if not lines or _INGREDIENTS_LINE.search(text[:200_000]):
        return False
    words = sum(len(line.split()) for line in lines) / len(lines)
    listed = [len(line) < 60 and looks_like_ingredient(line) for line in lines]
    begun = [
        one and bool(BULLET.match(line) or pattern("quantity").match(line))
        for one, line in zip(listed, lines, strict=True)
    ]
    from pipeline.intake.spoken.captions import broken_anywhere

    a_list = any(map(all, zip(begun, begun[1:], begun[2:], strict=False)))
    if not (_is_timed(lines) or (broken_anywhere(lines) and _is_talk(text))) and (
        words < 9 or (sum(listed) > len(lines) / 4 and (a_list or not _is_talk(text)))
    ):
        return False
    from pipeline.intake.spoken.script import looks_spoken

    return looks_spoken(text)


def _is_timed(lines: Sequence[str], begins: re.Pattern[str] = _SAID_AT) -> bool:
    """Whether most lines begin with the time at which they were said, one after the other."""
    times = [m[1].zfill(8) for line in lines if (m := begins.match(line))]
    return len(times) > max(_LEAST_TIMED, len(lines) / 2) and times == sorted(times)


def nothing_found(read: Read, file: SourceFile, text: str) -> None:
    """Say so when a file gave neither a recipe nor a reason."""
    if read.recipes or any(p.severity == "error" for p in read.problems):
        return
    prose = read.found in ("plain text", "Markdown", "XML")
    problem = input_problem(
        "no-recipe", source=file.source, text=cut(text[:200]),
        severity="error" if file.named else "note" if prose else "warning", file=file.path.name,
        why=f"it was read as {read.found or 'text'}" + _missing(read.found),
    )  # fmt: skip
    read.problems.append(problem)


def _missing(found: str) -> str:
    lines = ", and no lines in it look like ingredients under a title"
    return {
        "a web page": ", its scripts (JSON-LD) and its markup name no schema.org Recipe" + lines,
        "an e-book": lines,
        "a Word document": lines,
        "an OpenDocument text": lines,
        "a PDF": lines,
        "JSON": ", and nothing in it is a schema.org Recipe, has a title and ingredients or is their text",
        "XML": ", and nothing in it has a title and ingredients or is their text",
        "YAML": ", and nothing in it has a title and ingredients or is their text",
        "plain text": lines,
    }.get(found, "")
