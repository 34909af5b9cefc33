#!/bin/sh
# Writes the two files of pinned packages, each with its hashes, from pyproject.toml:
#   tests/constraints.txt   run time, the `test` extra, and what builds the package
#   deploy/constraints.txt  run time, and what builds the package; always the versions that were tested
# Run it when a bound in pyproject.toml changes or newer releases are wanted: sh tests/pin.sh
# It needs Python 3.11 or later (PYTHON=... names one) and the network; the resolver comes from PyPI into a throw-away environment.
set -eu

root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd -P)
cd "$root"

fail() {
    printf 'tests/pin.sh: %s\n' "$1" >&2
    exit 1
}

python=${PYTHON:-python3}
"$python" -c 'import sys, ensurepip, venv; sys.exit(sys.version_info < (3, 11))' 2>/dev/null ||
    fail "$python is no Python 3.11 or later with the venv module: name one, as in PYTHON=python3.12 sh tests/pin.sh"

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
trap 'exit 130' HUP INT TERM

"$python" -m venv "$work/venv" || fail "could not make an environment in $work"
PIP_DISABLE_PIP_VERSION_CHECK=1 "$work/venv/bin/python" -m pip install --quiet uv ||
    fail "could not install uv from PyPI: check the network"

build_requirements=$("$python" -c '
import tomllib
with open("pyproject.toml", "rb") as file:
    print(*tomllib.load(file)["build-system"]["requires"], sep="\n")')

# Reads further requirements from standard input; $1 is the output, the rest are options.
resolve() {
    output=$1
    shift
    "$work/venv/bin/uv" pip compile --quiet --no-config --universal --python-version 3.11 --fork-strategy fewest \
        --upgrade --generate-hashes --no-emit-index-url --no-emit-find-links \
        --custom-compile-command 'sh tests/pin.sh' \
        "$@" pyproject.toml - -o "$work/$output" || fail "the bounds in pyproject.toml have no solution: see above"
}

# hatchling needs editables for editable installs.
printf '%s\neditables>=0.5\n' "$build_requirements" | resolve tests.txt --extra test
cp "$work/tests.txt" tests/constraints.txt
printf '%s\n' "$build_requirements" | resolve deploy.txt --constraint tests/constraints.txt
cp "$work/deploy.txt" deploy/constraints.txt

for file in tests/constraints.txt deploy/constraints.txt; do
    if grep -n -E '://|^--|/tmp|/home|/root' "$file"; then
        fail "$file names a host, an index or a machine path: see the lines above"
    fi
    printf '%s: %s packages\n' "$file" "$(grep -c '^[a-z0-9].*==' "$file")"
done
