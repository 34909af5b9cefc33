#!/bin/sh
# Tries alertd from a checkout, with nothing to set up first: sh deploy/try.sh
# Makes a virtual environment .venv-try in the checkout with the pinned packages (deploy/constraints.txt, hashes required),
# installs alertd into it, runs `alertd demo` on invented data, and says how to go on. Sends nothing to anybody.
# It can be run again and from any folder: a whole environment is used again, and only the first run needs the network.
# It needs Python 3.11 or later (PYTHON=... names one); on Debian, run as root, it installs Python itself.
set -eu

fail() {
    printf 'deploy/try.sh: %s\n' "$1" >&2
    exit 1
}

is_usable_python() {
    "$1" -c 'import sys, ensurepip, venv; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1
}

# Prints the path of the first usable Python; PYTHON, when set, is the only candidate.
find_python() {
    if [ -n "${PYTHON:-}" ]; then
        set -- "$PYTHON"
    else
        set -- python3.13 python3.12 python3.11 python3 /usr/bin/python3
    fi
    for candidate in "$@"; do
        if is_usable_python "$candidate"; then
            "$candidate" -c 'import sys; print(sys.executable)'
            return
        fi
    done
    return 1
}

# Runs a command quietly; when it fails, prints the last line that says why, after the first argument, and stops.
quietly() {
    complaint=$1
    shift
    if "$@" >"$log" 2>&1; then
        return
    fi
    reason=$(grep -E '^(ERROR|E): ' "$log" | tail -n 1 || true)
    reason=${reason:-$(tail -n 1 "$log")}
    # pip reports trouble with the network only as warnings, and then that it found nothing.
    network=$(sed -n "s/.*connection broken by '\\(.*\\)': .*/\\1/p" "$log" | sed 's/<[^>]*>: //' | tail -n 1)
    reason=$reason${network:+ (network: $network)}
    fail "$complaint: ${reason:-no reason given}"
}

find_or_install_python() {
    if python=$(find_python); then
        return
    fi
    if [ -n "${PYTHON:-}" ]; then
        fail "PYTHON is $PYTHON, which is no Python 3.11 or later with the venv module: name another, or leave PYTHON unset"
    fi
    if ! command -v apt-get >/dev/null 2>&1; then
        fail 'no Python 3.11 or later with the venv module was found: install one, or name it with PYTHON=/path/to/python3'
    fi
    if [ "$(id -u)" -ne 0 ]; then
        fail 'no Python 3.11 or later with the venv module was found: as root, apt-get update && apt-get install python3 python3-venv'
    fi
    printf 'Installing python3 and python3-venv with apt-get ...\n'
    quietly 'apt-get update failed' apt-get update
    quietly 'apt-get could not install python3 and python3-venv' \
        env DEBIAN_FRONTEND=noninteractive apt-get install --yes --no-install-recommends python3 python3-venv
    python=$(find_python) ||
        fail 'the python3 of this system is older than 3.11: name a later one with PYTHON=/path/to/python3'
}

# What the environment was made from: the pins, the project's needs, the Python, and the place (environments cannot be moved).
fingerprint() {
    cat pyproject.toml deploy/constraints.txt
    "$python" -c 'import sys; print(sys.version)'
    printf '%s\n' "$python" "$root"
}

# Makes the environment unless a whole one of the same make is there.
prepare_environment() {
    wanted=$(fingerprint | cksum)
    made=$(cat "$environment/made-from" 2>/dev/null || true)
    if [ "$made" = "$wanted" ] && "$environment/bin/python" -m pip check >/dev/null 2>&1; then
        printf 'Using the environment that is there: %s\n' "$environment"
        return
    fi
    printf 'Making %s with %s; this takes a minute ...\n' "$environment" "$("$python" --version)"
    quietly "could not remove the old $environment" rm -rf "$environment"
    quietly "could not make $environment" "$python" -m venv "$environment"
    quietly 'could not install the pinned packages' \
        "$environment/bin/python" -m pip install --require-hashes -r deploy/constraints.txt
}

# The checkout as somebody in the folder $1 would type it, with a slash at its end; nothing when $1 is the checkout.
path_to_type() {
    case $root/ in
    "$1/") ;;
    "${1%/}"/*) printf '%s/' "${root#"${1%/}"/}" ;;
    *) printf '%s/' "$root" ;;
    esac
}

# Another environment's settings must not reach into this one.
unset PYTHONPATH PYTHONHOME VIRTUAL_ENV
export PIP_DISABLE_PIP_VERSION_CHECK=1 PIP_USER=0

called_from=$(pwd -P)
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd -P)
prefix=$(path_to_type "$called_from")
environment=.venv-try
log=$(mktemp)
trap 'rm -f "$log"' EXIT
trap 'exit 130' HUP INT TERM

find_or_install_python
cd "$root"
prepare_environment
quietly 'could not install alertd from this checkout' \
    "$environment/bin/python" -m pip install --no-deps --no-build-isolation .
printf '%s\n' "$wanted" >"$environment/made-from"

cd "$called_from"
alertd=$prefix$environment/bin/alertd
printf '\nA winter with all that it does to roots and wood takes some minutes to compute; messages show as they come.\n'
printf '$ %s demo --out %salertd-demo\n' "$alertd" "$prefix"
"$alertd" demo --out "${prefix}alertd-demo" ||
    fail "the demo failed with exit code $?: its own message stands above"

printf '\nTo go on with your own trees:\n'
printf '  %s init\n  %s check\n  %s run\n' "$alertd" "$alertd" "$alertd"
