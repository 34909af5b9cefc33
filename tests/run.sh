#!/bin/sh
# Checks everything: sh tests/run.sh. Format, lint, types, import contracts, dependencies, spelling, the top level, tests, coverage.
# Needs git and Python 3.11, 3.12 or 3.13; makes its own environment .venv-test-3.X in the checkout from tests/constraints.txt.
# It stops at the first step that fails and says which.
set -eu

usage() {
    cat <<'END'
usage: sh tests/run.sh [--quick | --all] [--pythons | --other-pythons | --python PATH] [-- PYTEST-ARGUMENTS]
  (no option)      leaves out tests marked long
  --quick          leaves out tests marked slow or long, and the coverage floors
  --all            runs every test
  --pythons        runs the tests on every Python 3.11, 3.12 and 3.13 of this machine, the linters on the lowest
  --other-pythons  the same without the lowest and the linters, for where a run without it has been there already
  --python PATH    runs on this Python
  -- ARGUMENTS     go to pytest, as in -- -k spell; then the coverage floors are left out
END
}

fail() {
    printf '\ntests/run.sh: %s\n' "$1" >&2
    exit 1
}

bad_usage() {
    printf 'tests/run.sh: %s\n' "$1" >&2
    usage >&2
    exit 2
}

tier=normal
which=first
python_path=
while [ $# -gt 0 ]; do
    case $1 in
    --quick | --all)
        [ "$tier" = normal ] || bad_usage '--quick and --all exclude each other'
        tier=${1#--}
        ;;
    --pythons) which=every ;;
    --other-pythons) which=other ;;
    --python)
        [ $# -ge 2 ] || bad_usage '--python needs the path of a Python'
        python_path=$2
        shift
        ;;
    --help | -h)
        usage
        exit 0
        ;;
    --)
        shift
        break
        ;;
    *) bad_usage "unknown option: $1" ;;
    esac
    shift
done
# From here on the positional parameters are pytest's.
if [ "$which" != first ] && [ -n "$python_path" ]; then
    bad_usage '--pythons and --other-pythons exclude --python'
fi
case $tier in
quick) left_out='not slow and not long' ;;
normal) left_out='not long' ;;
all) left_out='' ;;
esac
floors=yes
if [ "$tier" = quick ] || [ $# -gt 0 ]; then
    floors=no
fi

# ---- Python ----

# Prints "3.X PATH" when $1 is a Python that alertd supports and that can make environments.
describe_python() {
    "$1" -c '
import ensurepip, sys, venv
major, minor = sys.version_info[:2]
if (major, minor) not in {(3, 11), (3, 12), (3, 13)}:
    sys.exit(1)
print(f"{major}.{minor} {sys.executable}")' 2>/dev/null
}

# Prints "3.X PATH" for the first Python 3.X of the machine, X being $1: on PATH, under pyenv, in /usr/bin.
find_python() {
    pyenv_root=${PYENV_ROOT:-${HOME:-/nonexistent}/.pyenv}
    for candidate in "python3.$1" "$pyenv_root"/versions/3."$1"*/bin/python "/usr/bin/python3.$1"; do
        if description=$(describe_python "$candidate"); then
            case $description in
            "3.$1 "*)
                printf '%s\n' "$description"
                return
                ;;
            esac
        fi
    done
}

# Prints "3.X PATH" lines, lowest first.
list_pythons() {
    if [ -n "$python_path" ]; then
        describe_python "$python_path" || true
        return
    fi
    for minor in 11 12 13; do
        find_python "$minor"
    done
}

# ---- what the machine needs ----

# Installs the mail server that the slow tests drive, without letting it start or take a port.
install_postfix() {
    if [ "$tier" = quick ] || command -v postfix >/dev/null 2>&1 || [ -x /usr/sbin/postfix ]; then
        return
    fi
    if [ "$(id -u)" -ne 0 ] || ! command -v apt-get >/dev/null 2>&1; then
        printf 'postfix is not here, and this is not root on Debian: the tests that need it are skipped\n'
        return
    fi
    # Each command says itself when it fails: `set -e` does not reach into a function whose outcome is asked for.
    apt-get update -qq || return 1
    printf 'postfix postfix/main_mailer_type select No configuration\n' | debconf-set-selections || return 1
    policy=/usr/sbin/policy-rc.d
    if [ ! -e "$policy" ]; then
        remove_at_exit=$policy
        printf '#!/bin/sh\nexit 101\n' >"$policy"
        chmod 755 "$policy"
    fi
    installed=yes
    DEBIAN_FRONTEND=noninteractive apt-get install -qq --yes --no-install-recommends postfix >"$log" 2>&1 || installed=no
    if [ -n "$remove_at_exit" ]; then
        rm -f "$remove_at_exit"
        remove_at_exit=
    fi
    if [ "$installed" = no ]; then
        cat "$log"
        return 1
    fi
}

# Makes .venv-test-3.X unless a whole one of the same make is there.
prepare_environment() {
    export PIP_DISABLE_PIP_VERSION_CHECK=1 PIP_USER=0
    wanted=$({
        cat pyproject.toml tests/constraints.txt alertd/__init__.py
        "$python" -c 'import sys; print(sys.version)'
        printf '%s\n' "$python" "$root"
    } | cksum)
    made=$(cat "$environment/made-from" 2>/dev/null || true)
    if [ "$made" = "$wanted" ] && "$environment/bin/python" -m pip check >/dev/null 2>&1; then
        printf 'using the one that is there\n'
        return
    fi
    {
        rm -rf "$environment" &&
            "$python" -m venv "$environment" &&
            "$environment/bin/python" -m pip install --quiet --require-hashes -r tests/constraints.txt &&
            "$environment/bin/python" -m pip install --quiet --no-deps --no-build-isolation -e . &&
            printf '%s\n' "$wanted" >"$environment/made-from"
    } >"$log" 2>&1 || {
        cat "$log"
        return 1
    }
}

# ---- steps ----

# Runs one step under a heading, says how long it took, and stops everything when it fails.
step() {
    heading=$1
    shift
    printf '\n== %s\n' "$heading"
    step_began=$(date +%s)
    outcome=0
    "$@" || outcome=$?
    if [ "$outcome" -ne 0 ]; then
        fail "FAILED at \"$heading\" (exit code $outcome, $(($(date +%s) - step_began)) s)"
    fi
    printf -- '-- %s: fine (%s s)\n' "$heading" "$(($(date +%s) - step_began))"
}

check_spelling() {
    git ls-files --cached --others --exclude-standard -z >"$log" &&
        xargs -0 "$tools/codespell" <"$log"
}

# The top level is fixed; anything else there needs a decision first.
check_top_level() {
    expected='DEVELOPERS.md README.md alertd deploy example_config pyproject.toml tests'
    git ls-files >"$log" || return 1
    found=$(cut -d / -f 1 "$log" | grep -v '^\.' | LC_ALL=C sort -u | tr '\n' ' ')
    if [ "${found% }" != "$expected" ]; then
        printf 'expected: %s\nfound:    %s\n' "$expected" "${found% }"
        return 1
    fi
}

check_code() {
    step 'format' "$tools/ruff" format --check .
    step 'lint' "$tools/ruff" check .
    step 'types' "$tools/mypy"
    step 'import contracts' "$tools/lint-imports"
    step 'dependencies' "$tools/deptry" .
    step 'spelling' check_spelling
    step 'top level' check_top_level
}

# Runs pytest on this tier, under coverage where the floors apply. A part of the tests may have nothing that was chosen
# (pytest's exit code 5) when the run is narrowed; that no part had anything is checked at the end.
run_pytest() {
    if [ "$floors" = yes ]; then
        set -- -m coverage run -m pytest -m "$left_out" "$@"
    else
        set -- -m pytest -m "$left_out" "$@"
    fi
    verdict=0
    "$tools/python" "$@" || verdict=$?
    if [ "$verdict" -eq 5 ] && [ "$floors" = no ]; then
        printf 'nothing here was chosen\n'
        return 0
    fi
    if [ "$verdict" -eq 0 ]; then
        tests_ran=yes
    fi
    return "$verdict"
}

pure_coverage() {
    "$tools/coverage" combine --quiet &&
        "$tools/coverage" report --fail-under=100 --include="$pure"
}

overall_coverage() {
    "$tools/coverage" combine --quiet --append &&
        "$tools/coverage" report --fail-under=95
}

# All tests on the Python named $version at $python; the arguments are pytest's.
run_tests() {
    tests_ran=no
    # Absolute, so that programs which the tests start elsewhere add to it.
    COVERAGE_FILE=$root/.coverage-$version
    export COVERAGE_FILE
    rm -f "$COVERAGE_FILE" "$COVERAGE_FILE".*
    step "unit, property, scenario, reference and contract tests, doctests ($version)" run_pytest --doctest-modules \
        alertd tests/unit tests/property tests/scenario tests/reference tests/contract "$@"
    if [ "$floors" = yes ]; then
        step "every branch of the pure packages is covered by these ($version)" pure_coverage
    fi
    step "tests of the installed program ($version)" run_pytest tests/e2e "$@"
    if [ "$floors" = yes ]; then
        step "95 % of all is covered ($version)" overall_coverage
    fi
    if [ "$tests_ran" = no ]; then
        fail "no test was chosen on Python $version"
    fi
}

# Everything on the Python named $version at $python, the linters only on the lowest; the arguments are pytest's.
check_on_one_python() {
    environment=.venv-test-$version
    tools=$root/$environment/bin
    step "environment $environment" prepare_environment
    if [ -z "$versions" ] && [ "$which" != other ]; then
        check_code
    fi
    run_tests "$@"
    versions="$versions $version"
}

# ---- the run ----

unset PYTHONPATH PYTHONHOME VIRTUAL_ENV
began=$(date +%s)
if [ -n "$python_path" ]; then
    # A relative path is meant from where the person stands.
    python_path=$("$python_path" -c 'import sys; print(sys.executable)' 2>/dev/null) ||
        fail '--python: this is no Python that can be started'
fi
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd -P)
cd "$root"
pure='alertd/core/*,alertd/site/*,alertd/weather/*,alertd/thermal/*,alertd/hardiness/*,alertd/risk/*,alertd/plan/*,alertd/alerts/*'
remove_at_exit=
log=$(mktemp)
trap 'rm -f "$log" ${remove_at_exit:+"$remove_at_exit"}' EXIT
trap 'exit 130' HUP INT TERM

command -v git >/dev/null 2>&1 || fail 'git is needed to know which files are ours: install it'
pythons=$(list_pythons)
[ -n "$pythons" ] || fail 'no Python 3.11, 3.12 or 3.13 with the venv module was found: name one with --python PATH'
case $which in
first) pythons=$(printf '%s\n' "$pythons" | head -n 1) ;;
other) pythons=$(printf '%s\n' "$pythons" | tail -n +2) ;;
esac
if [ -z "$pythons" ]; then
    printf '\ntests/run.sh: there is no other Python here: nothing to do\n'
    exit 0
fi
printf 'Python here:\n%s\n' "$pythons"
if [ "$floors" = no ]; then
    printf 'The coverage floors are not applied in this run.\n'
fi

step 'programs that the tests need' install_postfix
versions=
while read -r version python; do
    check_on_one_python "$@" </dev/null
done <<END
$pythons
END

printf '\ntests/run.sh: all steps passed on Python%s (%s s)\n' "$versions" "$(($(date +%s) - began))"
