#!/usr/bin/env bash
# Installs a lock file, hashes checked, and the project itself: install.sh VENV LOCK
# uv where it runs (seconds), pip where it does not (minutes). uv itself comes by pip, pinned in
# uv.lock with its hashes; another uv in the environment is replaced, and where the pinned one cannot
# be had or does not run, pip does the work with the same lock.
set -euo pipefail
venv=$1 lock=$2
python=$venv/bin/python
locked_uv() {
  wanted=$(sed -n 's/^uv==\([^ ]*\).*/\1/p' requirements/uv.lock)
  [ "$("$venv/bin/uv" --version 2> /dev/null | cut -d ' ' -f 2)" = "$wanted" ] && return
  "$python" -m pip install -q --disable-pip-version-check --require-hashes \
    -r requirements/uv.lock && "$venv/bin/uv" --version > /dev/null
}
if locked_uv; then
  "$venv/bin/uv" pip install -q --python "$python" --require-hashes -r "$lock"
  "$venv/bin/uv" pip install -q --python "$python" --no-deps --no-build-isolation -e .
else
  "$python" -m pip install -q --disable-pip-version-check --require-hashes -r "$lock"
  "$python" -m pip install -q --disable-pip-version-check --no-deps --no-build-isolation -e .
fi
# bytecode of what every run imports: uv leaves it to the first run, and where PYTHONDONTWRITEBYTECODE
# is set no run ever writes it, which costs a second at each start
site=$("$python" -c 'import sysconfig; print(sysconfig.get_path("purelib"))')
"$python" -m compileall -q -l "$site" || true  # modules that are a single file
"$python" -m compileall -q pipeline \
  "$site"/{pandas,numpy,duckdb,dateutil,pydantic,pydantic_core,typing_inspection,annotated_types} \
  "$site"/{click,rich,rapidfuzz,yaml,jinja2,markupsafe,platformdirs,filelock} -x '/tests/' || true
