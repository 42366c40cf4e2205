"""A run's findings as files: pages for people, tables for programs, annotations for CI."""

from __future__ import annotations

from collections.abc import Iterable
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pipeline.run import Result

#: Every format ``write`` knows, and the files it makes.
FORMATS = ("csv", "parquet", "json", "html", "markdown", "junit", "sarif")

#: Formats of one text, each made by ``render`` of the module of its name, and their files.
_TEXTS = {"markdown": "report.md", "junit": "report.junit.xml", "sarif": "report.sarif"}

#: What is written unless asked otherwise.
DEFAULT_FORMATS = ("csv", "parquet", "json", "html")

__all__ = ["DEFAULT_FORMATS", "FORMATS", "write"]


def write(
    result: Result,
    out: Path,
    *,
    formats: Iterable[str] = DEFAULT_FORMATS,
    by_creator: bool = False,
) -> list[Path]:
    """Write the results of a run into a folder.

    Args:
        out: folder, made when absent; files of other names in it are left alone.
        formats: any of ``FORMATS``. ``csv`` and ``parquet``: recipes, findings, lines,
            explanations, problems, to_review, claims, corrected; ``json``: report.json;
            ``html``: report.html and one page per recipe in ``pages/``, or, of a large collection,
            report-recipe.html and its data in ``report-data/``; ``markdown``: report.md;
            ``junit``: report.junit.xml; ``sarif``: report.sarif.
        by_creator: also one folder per creator below ``out/creators`` with the same formats, when
            the collection names creators.

    Returns:
        The files written, in a stable order.

    Raises:
        SteelyardError: the folder cannot be written, the disk is full, or another run holds it;
            what stood there before still stands there, whole.
        ValueError: a format is not known.
    """
    from pipeline.report.creators import by_creator as parts
    from pipeline.report.folder import files_below, staged

    wanted = list(dict.fromkeys(formats))
    unknown = [f for f in wanted if f not in FORMATS]
    if unknown:
        raise ValueError(f"formats {unknown} are not known; known: {', '.join(FORMATS)}")
    creators = parts(result) if by_creator else []
    with staged(out) as stage:
        _write_all(result, stage, wanted, {c.name: f"creators/{c.folder}" for c in creators})
        for creator in creators:
            folder = stage / "creators" / creator.folder
            folder.mkdir(parents=True)
            _write_all(creator.result, folder, wanted, {}, creator.name)
        names = [p.relative_to(stage) for p in files_below(stage)]
    return [out / name for name in names]


def _write_all(
    result: Result, folder: Path, formats: list[str], pages: dict[str, str], creator: str = ""
) -> None:
    """Every format of one result into one folder; ``pages``: creator to folder of their own."""
    from pipeline.report.tables import table as as_table
    from pipeline.report.tables import tables

    made = tables(result) if {"csv", "parquet", "json"} & set(formats) else []
    if {"csv", "parquet"} & set(formats):
        import duckdb

        from pipeline.report.data_files import write_csv, write_parquet

        with duckdb.connect() as con:
            for table in made:
                if "csv" in formats:
                    write_csv(con, table, folder / f"{table.name}.csv")
                if "parquet" in formats:
                    write_parquet(con, table, folder / f"{table.name}.parquet")
    if "json" in formats:
        from pipeline.report.data_files import write_json
        from pipeline.report.facts import facts

        more = [as_table(name, getattr(result, name)) for name in ("checks", "doubt", "computed")]
        write_json([*made, *more], facts(result), folder / "report.json")
    if "html" in formats:
        _write_html(result, folder, pages, creator)
    for name, file in _TEXTS.items():
        if name in formats:
            render = import_module(f"pipeline.report.{name}").render
            _text(folder / file, render(result))


def _write_html(result: Result, folder: Path, pages: dict[str, str], creator: str) -> None:
    """One page per recipe, or, of a large collection, one page for all of them and their data."""
    from pipeline.report.view import MOST_PAGES

    if len(result.recipes) > MOST_PAGES:
        from pipeline.report.paged import write_paged_result

        write_paged_result(result, folder, pages=pages, creator=creator)
        return
    from pipeline.report.page import render_all

    for name, text in render_all(result, pages=pages, creator=creator):
        (folder / name).parent.mkdir(exist_ok=True)
        _text(folder / name, text)


def _text(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="\n", errors="replace")
