#!/usr/bin/env bash
# Installs a lock file, hashes checked, and the project itself: install.sh VENV LOCK
# uv where it runs (seconds), pip where it does not (minutes).
set -euo pipefail
venv=$1 lock=$2
python=$venv/bin/python
if [ -x "$venv/bin/uv" ]; then
  "$venv/bin/uv" pip install -q --python "$python" --require-hashes -r "$lock"
  "$venv/bin/uv" pip install -q --python "$python" --no-deps --no-build-isolation -e .
else
  "$python" -m pip install -q --disable-pip-version-check --require-hashes -r "$lock"
  "$python" -m pip install -q --disable-pip-version-check --no-deps --no-build-isolation -e .
fi
