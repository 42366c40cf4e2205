"""Settings that cannot be used: which line, why, and how it is written right."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.problems import SteelyardError
from pipeline.settings import Settings, load_settings, unused_percent


@pytest.mark.parametrize(
    ("text", "line", "fix"),
    [
        ("percent = 10,0\n", 1, "write 10.0"),
        ("# mine\n\npercent = 1O.0\n", 3, "percent = 10.0"),
        ("spoons = uk  # ours\n", 1, 'spoons = "uk"'),
        ("creator = ‘Ana’\n", 1, 'creator = "Ana"'),
        ('profile = "eu\n', 1, 'profile = "eu"'),
        ("follow_links = yes\n", 1, "follow_links = true"),
        ('[creators.Ana Maria]\nenergy = "table"\n', 1, '[creators."Ana Maria"]'),
        ('percent "1"\n', 1, "NAME = VALUE"),
        ('profile = "us"\nspons = "uk"\n', 2, 'did you mean "spoons"'),
        ('percent = "ten"\n', 1, "known settings"),
        ("percent = 0\n", 1, "known settings"),
    ],
)
def test_a_fault_has_its_line_and_what_to_write(
    tmp_path: Path, text: str, line: int, fix: str
) -> None:
    (tmp_path / "steelyard.toml").write_text(text, encoding="utf-8")
    with pytest.raises(SteelyardError) as told:
        load_settings(tmp_path)
    problem = told.value.problem
    assert (problem.code, problem.source_line) == ("settings-invalid", line)
    assert fix in problem.fix
    assert problem.why


@pytest.mark.parametrize(
    ("data", "said"),
    [(b'creator = "Zo\xeb"\n', "not UTF-8"), (b"percent = " + b"[" * 9000, "deeper")],
)
def test_a_file_that_is_no_table_of_settings_says_why(
    tmp_path: Path, data: bytes, said: str
) -> None:
    (tmp_path / "steelyard.toml").write_bytes(data)
    with pytest.raises(SteelyardError, match=said):
        load_settings(tmp_path)


@pytest.mark.parametrize(
    ("settings", "said"),
    [
        (Settings(percent=15.0), True), (Settings(profile="percent", percent=15.0), False),
        (Settings(), False),
    ],
)  # fmt: skip
def test_a_percentage_that_no_profile_looks_at_is_told(settings: Settings, said: bool) -> None:
    assert [p.code for p in unused_percent(settings)] == ["setting-unused"] * said
