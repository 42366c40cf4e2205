"""What the pages say works: links lead somewhere, every command runs, every command has a page."""

from __future__ import annotations

import ast
import re
import shlex
import shutil
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from pipeline.cli import app
from pipeline.resources import ROOT, shared_rows

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
    for name in app.commands:
        assert f"steelyard {name}" in said, name


def options(command: click.Command) -> set[str]:
    """Options of a command and of all below it."""
    found = {name for one in command.params for name in (*one.opts, *one.secondary_opts)}
    if isinstance(command, click.Group):
        context = click.Context(command)
        for name in command.list_commands(context):
            inner = command.get_command(context, name)
            found |= options(inner) if inner is not None else set()
    return found


def test_a_message_advises_only_options_that_there_are() -> None:
    advised = {
        (file, option)
        for file in ("command_problems.csv", "input_problems.csv", "line_problems.csv")
        for row in shared_rows(file)
        for option in re.findall(r"(?<![\w-])--[a-z][a-z-]+", " ".join(row.values()))
    }
    known = options(app) | {"--help"}
    assert {said for said in advised if said[1] not in known} == set()


def test_the_numbers_of_the_readme_card_are_right(folder: Path) -> None:
    from pipeline.run import verify

    recipes = verify(folder / "my-recipes" / "porridge.txt").recipes
    assert list(recipes["verdict"]) == ["agrees"]


# --- names in the pages for contributors ------------------------------------------------------------------------

FOR_CONTRIBUTORS = ("DEVELOPERS.md", "CONTRIBUTING.md", "docs/adding.md")
#: Folders that a path may be written from, and folders below which a bare file name is looked for.
BASES = [ROOT, *(ROOT / "pipeline" / part for part in ("", "intake", "report"))]
HOLDERS = ("pipeline", "shared", "sql", "tests")
#: Columns of SQL tables, a file that a run writes, files of an invented table.
ELSEWHERE_NAMED = ("source.", "food.", "report.html", "quay.")
PATH = re.compile(r"(?:[\w-]+/)*[\w-]+\.(?:py|sql|csv|json|toml|js|lock|md)|(?:[\w-]+/)+")


def spans() -> list[str]:
    """Every code span of these pages, each without the arguments of a command."""
    pages = "\n".join((ROOT / page).read_text(encoding="utf-8") for page in FOR_CONTRIBUTORS)
    text = re.sub(r"```.*?```", "", pages, flags=re.DOTALL)
    found = {span.split(" ")[0] for span in re.findall(r"`([^`\n]+)`", text)}
    return sorted(span for span in found if not span.startswith(ELSEWHERE_NAMED))


def defined_in(module: Path) -> dict[str, set[str]]:
    """Names that a module defines or imports at its top; classes with their attributes."""
    names: dict[str, set[str]] = {}
    for node in ast.parse(module.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.ClassDef):
            inside = [n for n in ast.walk(node) if isinstance(n, (ast.Name, ast.FunctionDef))]
            names[node.name] = {n.id if isinstance(n, ast.Name) else n.name for n in inside}
        elif isinstance(node, ast.FunctionDef):
            names[node.name] = set()
        elif isinstance(node, ast.ImportFrom):
            names |= {alias.name: set() for alias in node.names}
        elif isinstance(node, (ast.Assign, ast.AnnAssign)):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            names |= {t.id: set() for t in targets if isinstance(t, ast.Name)}
    return names


def modules_named(path: str) -> list[Path]:
    """Modules whose path ends so; for the name of a package, its ``__init__``."""
    ends = (f"/{path}", f"/{path.removesuffix('.py')}/__init__.py")
    found = [*(ROOT / "pipeline").rglob("*.py"), *(ROOT / "tests").rglob("*.py")]
    return [module for module in found if module.as_posix().endswith(ends)]


def defines(module: Path, name: str, attribute: str = "") -> bool:
    """Whether a module has a name at its top, and that name an attribute."""
    names = defined_in(module)
    return name in names and (not attribute or attribute in names[name])


@pytest.mark.parametrize("span", [s for s in spans() if PATH.fullmatch(s)])
def test_a_path_for_contributors_exists(span: str) -> None:
    there = any((base / span).exists() for base in BASES)
    anywhere = "/" not in span and any(any((ROOT / h).rglob(span)) for h in HOLDERS)
    assert there or anywhere, span


@pytest.mark.parametrize("span", [s for s in spans() if "::" in s])
def test_a_name_in_a_module_for_contributors_exists(span: str) -> None:
    """``module.py::name`` and ``module.py::Class.name``."""
    path, _, name = span.partition("::")
    name, _, attribute = name.partition(".")
    assert any(defines(module, name, attribute) for module in modules_named(path)), span


@pytest.mark.parametrize("span", [s for s in spans() if re.fullmatch(r"\w+\.\w+", s)])
def test_a_dotted_name_for_contributors_exists(span: str) -> None:
    """``module.name`` and ``Class.name``."""
    first, _, last = span.partition(".")
    if PATH.fullmatch(span):
        return
    every = (ROOT / "pipeline").rglob("*.py")
    assert any(defines(module, last) for module in modules_named(f"{first}.py")) or any(
        defines(module, first, last) for module in every
    ), span
