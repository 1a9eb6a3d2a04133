#!/bin/sh
# Brings what the tests need, then runs them. Usage: sh tests/run.sh [--no-tests] [pytest arguments]
set -eu
cd "$(dirname "$0")/.."

say() { printf '%s\n' "$*"; }

python=${PYTHON:-python3}
if ! "$python" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
    say "Python 3.11 or newer is needed; $python is $("$python" --version 2>&1 || echo missing)."
    say "Set PYTHON to a newer interpreter, e.g.  PYTHON=python3.11 sh tests/run.sh"
    exit 1
fi

# A browser and static servers are part of the tests: a missing one fails them, it never skips.
packages=""
"$python" -c 'import venv, ensurepip' 2>/dev/null || packages="python3-venv"
PATH=$PATH:/usr/sbin
for pair in chromium:chromium nginx:nginx-light node:nodejs npm:npm; do
    command -v "${pair%%:*}" >/dev/null 2>&1 || packages="$packages ${pair#*:}"
done
if [ -n "$packages" ]; then
    if [ "$(id -u)" = 0 ]; then as_root=""
    elif command -v sudo >/dev/null 2>&1; then as_root="sudo"
    else
        say "These packages are missing:$packages. Install them as root:  apt-get install $packages"
        exit 1
    fi
    $as_root apt-get update -qq
    DEBIAN_FRONTEND=noninteractive $as_root apt-get install -y -qq $packages >/dev/null
fi

[ -x .venv/bin/python ] || "$python" -m venv .venv
.venv/bin/pip install --quiet --disable-pip-version-check -e '.[test]'

if [ "${1:-}" = "--no-tests" ]; then
    say "Everything is in place. Run the tests with  sh tests/run.sh"
    exit 0
fi
# one process a core, and no more than four: each holds built sites of its own
exec .venv/bin/python -m pytest -n auto --maxprocesses 4 --dist worksteal "$@"
