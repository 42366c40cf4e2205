"""Ready units that refresh the snapshot on a schedule, for four kinds of scheduler.

They are printed, never installed. Every one runs ``steelyard refresh --quiet``: silent when nothing
changed; exit codes 0 nothing new or published, 4 the release was refused, 5 verdicts of the
collection changed, 69 the publisher could not be reached, 75 another run is at work.
"""

from __future__ import annotations

import re
import shlex
import sys
from dataclasses import dataclass
from pathlib import Path
from xml.sax.saxutils import escape

from pipeline.problems import Problem, SteelyardError

KINDS = ("systemd", "cron", "launchd", "github-actions")
_DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


@dataclass(frozen=True, slots=True)
class Schedule:
    """When and what.

    Attributes:
        day: ``mon`` ... ``sun``, or ``daily``.
        hour: 0 to 23, local time (UTC on GitHub).
        quiet: hours that must stay free, ``"22-07"``; ``hour`` must lie outside. "" for none.
        sources: keys of ``sources.toml``; none for the usual ones.
        collection: folder whose verdicts are compared after a new release, "" for none.
        program: the command, as the scheduler must call it.
    """

    day: str = "sun"
    hour: int = 9
    quiet: str = "22-07"
    sources: tuple[str, ...] = ()
    collection: str = ""
    program: str = ""

    def __post_init__(self) -> None:
        if self.day not in (*_DAYS, "daily"):
            raise _fault(f'"{self.day}" is no day', f"known: {', '.join(_DAYS)}, daily")
        if not 0 <= self.hour <= 23:
            raise _fault(f'"{self.hour}" is no hour', "0 to 23")
        if self.quiet:
            found = re.fullmatch(r"(\d{1,2})-(\d{1,2})", self.quiet)
            if not found or not all(0 <= int(h) <= 24 for h in found.groups()):
                raise _fault(f'"{self.quiet}" are no quiet hours', 'like "22-07"')
            start, end = (int(h) % 24 for h in found.groups())
            inside = start <= self.hour < end if start <= end else not end <= self.hour < start
            if inside and start != end:
                raise _fault(
                    f"{self.hour} o'clock lies in the quiet hours {self.quiet}",
                    "choose another --hour or --quiet-hours",
                )
        for name in self.sources:
            if not re.fullmatch(r"[a-z0-9_]+", name):
                raise _fault(f'"{name}" is no source', "a key of sources.toml")
        if "\n" in self.collection + self.program:
            raise _fault("a path has a line break in it", "no scheduler can hold that")

    @property
    def arguments(self) -> list[str]:
        """The command line of one run."""
        program = self.program or _own_program()
        out = [program, "refresh", "--quiet"]
        for name in self.sources:
            out += ["--source", name]
        if self.collection:
            out += ["--collection", self.collection]
        return out

    @property
    def command(self) -> str:
        """The same, quoted for a shell."""
        return shlex.join(self.arguments)


def _own_program() -> str:
    """The console script beside this Python, else the name alone."""
    beside = Path(sys.executable).with_name("steelyard")
    return str(beside) if beside.is_file() else "steelyard"


def _fault(what: str, why: str) -> SteelyardError:
    return SteelyardError(Problem("schedule-invalid", what, why, "see steelyard schedule --help"))


def unit(kind: str, schedule: Schedule | None = None) -> str:
    """The text of a ready unit.

    Args:
        kind: one of :data:`KINDS`.
        schedule: when and what.

    Raises:
        SteelyardError: an unknown kind.
    """
    makers = {"systemd": _systemd, "cron": _cron, "launchd": _launchd, "github-actions": _actions}
    if kind not in makers:
        raise _fault(f'there is no unit for "{kind}"', f"known: {', '.join(KINDS)}")
    return makers[kind](schedule or Schedule())


def _systemd(s: Schedule) -> str:
    day = "*-*-*" if s.day == "daily" else f"{s.day.title()} *-*-*"
    command = " ".join(_systemd_word(word) for word in s.arguments)
    # 5: verdicts changed, is a result to look at and no failure of the unit
    return f"""\
# ~/.config/systemd/user/steelyard-refresh.service
[Unit]
Description=Refresh the nutrient snapshot of Steelyard
Documentation=man:systemd.timer(5)
Wants=network-online.target
After=network-online.target

[Service]
Type=oneshot
ExecStart={command}
SuccessExitStatus=5 75
Nice=10
IOSchedulingClass=idle
TimeoutStartSec=2h
# one run at a time: systemd never starts a unit twice, and the program holds its own lock
# log: journalctl --user -u steelyard-refresh

# ~/.config/systemd/user/steelyard-refresh.timer
[Unit]
Description=Look for new releases of nutrient tables

[Timer]
# quiet hours {s.quiet or "none"}; a run missed while the machine slept is made up for
OnCalendar={day} {s.hour:02d}:17:00
RandomizedDelaySec=20m
Persistent=true

[Install]
WantedBy=timers.target

# then: systemctl --user daemon-reload && systemctl --user enable --now steelyard-refresh.timer
"""


def _systemd_word(word: str) -> str:
    doubled = word.replace("%", "%%").replace("$", "$$")
    if re.fullmatch(r"[\w@%+=:,./$-]+", doubled):
        return doubled
    escaped = doubled.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


def _cron(s: Schedule) -> str:
    day = "*" if s.day == "daily" else str((_DAYS.index(s.day) + 1) % 7)
    command = s.command.replace("%", r"\%")  # cron reads % as a line break
    return f"""\
# crontab -e; quiet hours {s.quiet or "none"}. Silent when nothing changed, so cron mails only news.
# flock -n leaves when a run is still going; without flock the program's own lock does the same.
17 {s.hour} * * {day} mkdir -p "$HOME/.local/state/steelyard" && \
flock -n "$HOME/.local/state/steelyard/refresh.lock" {command} \
2>&1 | tee -a "$HOME/.local/state/steelyard/refresh.log"
"""


def _launchd(s: Schedule) -> str:
    log = escape(str(Path.home() / "Library" / "Logs" / "steelyard-refresh.log"))
    words = "\n".join(f"    <string>{escape(word)}</string>" for word in s.arguments)
    weekday = (
        ""
        if s.day == "daily"
        else f"    <key>Weekday</key><integer>{(_DAYS.index(s.day) + 1) % 7}</integer>\n"
    )
    return f"""\
<?xml version="1.0" encoding="UTF-8"?>
<!-- ~/Library/LaunchAgents/steelyard.refresh.plist; quiet hours {s.quiet or "none"}.
     launchd never starts a job twice, and the program holds its own lock.
     Then: launchctl load ~/Library/LaunchAgents/steelyard.refresh.plist -->
<!DOCTYPE plist PUBLIC "-//Apple//DTD PLIST 1.0//EN" "http://www.apple.com/DTDs/PropertyList-1.0.dtd">
<plist version="1.0">
<dict>
  <key>Label</key><string>steelyard.refresh</string>
  <key>ProgramArguments</key>
  <array>
{words}
  </array>
  <key>StartCalendarInterval</key>
  <dict>
{weekday}    <key>Hour</key><integer>{s.hour}</integer>
    <key>Minute</key><integer>17</integer>
  </dict>
  <key>ProcessType</key><string>Background</string>
  <key>LowPriorityIO</key><true/>
  <key>StandardOutPath</key><string>{log}</string>
  <key>StandardErrorPath</key><string>{log}</string>
</dict>
</plist>
"""


def _actions(s: Schedule) -> str:
    day = "*" if s.day == "daily" else str((_DAYS.index(s.day) + 1) % 7)
    words = ["steelyard", *s.arguments[1:]]
    if s.collection and Path(s.collection).is_absolute():
        words[words.index(s.collection)] = "."  # there the checkout is the collection
    command = shlex.join(words)
    return f"""\
# .github/workflows/nutrient-refresh.yml; hours are UTC, quiet hours {s.quiet or "none"}
name: nutrient refresh
on:
  schedule:
    - cron: "17 {s.hour} * * {day}"
  workflow_dispatch:
permissions:
  contents: read
concurrency:            # the lock: one run at a time, a second one waits
  group: nutrient-refresh
  cancel-in-progress: false
jobs:
  refresh:
    runs-on: ubuntu-latest
    timeout-minutes: 60
    env:
      STEELYARD_HOME: ${{{{ github.workspace }}}}/.steelyard
    steps:
      - uses: actions/checkout@v4
      - uses: actions/setup-python@v5
        with:
          python-version: "3.12"
      - uses: actions/cache@v4
        with:
          path: .steelyard
          key: nutrient-snapshot-${{{{ github.run_id }}}}
          restore-keys: nutrient-snapshot-
      - run: pip install steelyard
      - name: refresh           # fails with 5 when verdicts changed, so that somebody looks
        shell: bash
        run: |
          {command} 2>&1 | tee refresh.log
          exit "${{PIPESTATUS[0]}}"
      - uses: actions/upload-artifact@v4
        if: always()
        with:
          name: nutrient-refresh-log
          path: refresh.log
"""
