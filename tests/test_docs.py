"""What the pages say works: links lead somewhere, every command runs, every command has a page."""

from __future__ import annotations

import re
import shlex
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from pipeline.cli import app
from pipeline.resources import ROOT

PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]
README = (ROOT / "README.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_links_and_pictures_lead_somewhere(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    for target in re.findall(r"\]\(([^)#]+)\)", text):
        if "://" not in target:
            assert (page.parent / target).exists(), target
    for alt in re.findall(r"!\[([^\]]*)\]", text):
        assert len(alt) > 20  # a picture says in words what it shows


def commands() -> list[str]:
    """Every ``steelyard`` line of the README's sh blocks, comments off."""
    blocks = re.findall(r"```sh\n(.*?)```", README, re.DOTALL)
    lines = [line.split("   #")[0].strip() for block in blocks for line in block.splitlines()]
    return [line for line in lines if line.startswith("steelyard ")]


#: They serve or wait, or ask the network; their own tests cover them.
ELSEWHERE = ("steelyard review", "steelyard watch", "steelyard refresh", "steelyard drift")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A starter collection with the README's own card and pantry in it."""
    folder = tmp_path_factory.mktemp("readme")
    made = CliRunner().invoke(app, ["new", str(folder / "my-recipes")])
    assert made.exit_code == 0, made.output
    card = re.search(r"```text\n(Second-watch porridge.*?)```", README, re.DOTALL)
    pantry = re.search(r"```csv\n(.*?)```", README, re.DOTALL)
    assert card
    assert pantry
    (folder / "my-recipes" / "porridge.txt").write_text(card[1], encoding="utf-8")
    (folder / "my-recipes" / "pantry.csv").write_text(pantry[1], encoding="utf-8")
    (folder / "lines.txt").write_text("2 eggs\n", encoding="utf-8")
    return folder


@pytest.mark.parametrize("line", [c for c in commands() if not c.startswith(ELSEWHERE)])
def test_a_command_of_the_readme_runs(
    line: str, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder)
    words, stdin = shlex.split(line)[1:], None
    if "<" in words:
        stdin = Path(words[words.index("<") + 1]).read_text(encoding="utf-8")
        words = words[: words.index("<")]
    if words[0] == "new":
        shutil.rmtree(folder / "again", ignore_errors=True)
        words[1] = "again"
    done = CliRunner().invoke(app, words, input=stdin)
    assert done.exit_code == 0, done.output
    assert done.output.strip()


def test_the_readme_names_every_command_or_its_page_does() -> None:
    said = "\n".join(p.read_text(encoding="utf-8") for p in PAGES)
    names = [c.name or c.callback.__name__ for c in app.registered_commands]
    for name in names:
        assert f"steelyard {name}" in said, name


def test_the_numbers_of_the_readme_card_are_right(folder: Path) -> None:
    from pipeline.run import verify

    recipes = verify(folder / "my-recipes" / "porridge.txt").recipes
    assert list(recipes["verdict"]) == ["agrees"]
