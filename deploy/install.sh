#!/bin/sh
# Installs alertd from a checkout as a systemd service: sh deploy/install.sh, as root. Running it again upgrades; deploy/SYSTEMD.md
# tells what it puts where. A new version is made beside the one in use and takes its place only when it is whole and works.
#   sh deploy/install.sh              installs or upgrades; restarts the service if it runs, and never starts it for the first time
#   sh deploy/install.sh --uninstall  removes all but the configuration and what alertd remembers
#   sh deploy/install.sh --purge      removes those, too
set -eu

releases=/opt/alertd
configuration=/etc/alertd
unit=/etc/systemd/system/alertd.service
command_link=/usr/local/bin/alertd
current=$releases/current

fail() {
    printf 'deploy/install.sh: %s\n' "$1" >&2
    exit 1
}

is_usable_python() {
    "$1" -c 'import sys, ensurepip, venv; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1
}

# Prints the path of the first usable Python; PYTHON, when set, is the only candidate. The system's own comes first: the
# service may read nothing in home directories, where others often are.
find_python() {
    if [ -n "${PYTHON:-}" ]; then
        set -- "$PYTHON"
    else
        set -- /usr/bin/python3 /usr/bin/python3.13 /usr/bin/python3.12 /usr/bin/python3.11 python3
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
    printf 'Installing python3 and python3-venv with apt-get ...\n'
    quietly 'apt-get update failed' apt-get update
    quietly 'apt-get could not install python3 and python3-venv' \
        env DEBIAN_FRONTEND=noninteractive apt-get install --yes --no-install-recommends python3 python3-venv
    python=$(find_python) ||
        fail 'the python3 of this system is older than 3.11: name a later one with PYTHON=/path/to/python3'
}

# What a release is made from: the pins, all of the package, and the Python.
fingerprint() {
    find pyproject.toml README.md deploy/constraints.txt alertd -type f ! -name '*.pyc' -exec cksum {} + | LC_ALL=C sort -k 3
    "$python" -c 'import sys; print(sys.version)'
    printf '%s\n' "$python"
}

# Makes the release of this checkout unless it is there, and lets it take the place of the one in use.
install_release() {
    release=$releases/release-$(fingerprint | cksum | cut -d ' ' -f 1)
    if [ -e "$release/is-whole" ]; then
        printf 'This version is there already: %s\n' "$release"
    else
        printf 'Making %s with %s; this takes a minute ...\n' "$release" "$("$python" --version)"
        quietly "could not remove what a broken run left in $release" rm -rf "$release"
        quietly "could not make $releases" mkdir -p "$releases"
        quietly "could not make $release" "$python" -m venv "$release"
        quietly 'could not install the pinned packages' \
            "$release/bin/python" -m pip install --require-hashes -r deploy/constraints.txt
        quietly 'could not install alertd from this checkout' \
            "$release/bin/python" -m pip install --no-deps --no-build-isolation .
        quietly 'the new version does not start' "$release/bin/alertd" schema
        quietly "could not let the service read $release" chmod -R go+rX,go-w "$release"
        : >"$release/is-whole"
    fi
    before=$(readlink "$current" || true)
    use_release "$release"
    ln -sfn "$current/bin/alertd" "$command_link"
}

use_release() {
    ln -sfn "$1" "$current.new"
    mv -fT "$current.new" "$current"
}

install_configuration() {
    mkdir -p "$configuration"
    chmod 755 "$configuration"
    if [ ! -d "$configuration/credentials" ]; then
        mkdir -m 700 "$configuration/credentials"
    fi
    chmod 700 "$configuration/credentials"
    if [ ! -e "$configuration/alertd.toml" ]; then
        # The service may write nowhere but below its state directory.
        sed 's|"file:letters"|"file:/var/lib/alertd/letters"|; s|in a directory beside this file|in a directory of the service|' \
            example_config/fahrenheit.toml >"$configuration/alertd.toml.new"
        chmod 644 "$configuration/alertd.toml.new"
        mv "$configuration/alertd.toml.new" "$configuration/alertd.toml"
        printf 'An example with invented trees was written to %s.\n' "$configuration/alertd.toml"
    fi
}

install_unit() {
    cp deploy/alertd.service "$unit.new"
    chmod 644 "$unit.new"
    mv "$unit.new" "$unit"
    quietly 'systemd could not read the new unit' systemctl daemon-reload
}

# Removes the releases that are no longer in use.
tidy() {
    for old in "$releases"/release-*; do
        if [ "$old" != "$release" ]; then
            rm -rf "$old"
        fi
    done
}

# The unit stays the new one: its lines are those of the new version, and the old one knows of no others.
restart_or_go_back() {
    if systemctl restart alertd >"$log" 2>&1; then
        return
    fi
    if [ -z "$before" ] || [ "$before" = "$release" ]; then
        fail 'the service did not start again; see: journalctl -u alertd'
    fi
    use_release "$before"
    quietly 'neither the new version nor the one before starts; see: journalctl -u alertd' systemctl restart alertd
    fail 'the new version did not start, and the one before runs again; see: journalctl -u alertd'
}

install_all() {
    find_or_install_python
    cd "$root"
    install_release
    install_configuration
    install_unit
    if systemctl is-active --quiet alertd; then
        printf 'Restarting the service ...\n'
        restart_or_go_back
        tidy
        printf 'alertd runs: %s\n' "$(systemctl show --property=StatusText --value alertd)"
        return
    fi
    tidy
    printf '\nThe service does not run yet. To go on:\n'
    printf '  edit %s, or: alertd init --force --out %s\n' "$configuration/alertd.toml" "$configuration/alertd.toml"
    printf '  put each address with a password into a file in %s\n' "$configuration/credentials"
    printf '  alertd check --send\n  systemctl enable --now alertd\n'
}

uninstall() {
    if [ -e "$unit" ]; then
        quietly 'the service could not be stopped' systemctl disable --now alertd
        rm -f "$unit"
        quietly 'systemd could not forget the unit' systemctl daemon-reload
        systemctl reset-failed alertd >/dev/null 2>&1 || true
    fi
    if [ "$(readlink "$command_link" || true)" = "$current/bin/alertd" ]; then
        rm -f "$command_link"
    fi
    rm -rf "$releases"
    printf 'alertd is removed.\n'
}

purge() {
    rm -rf "$configuration" /var/lib/private/alertd
    # A link that systemd made to the directory above; a directory if the service once ran as a user of its own.
    rm -rf /var/lib/alertd
    printf 'Its configuration and all that it remembered are removed, too.\n'
}

action=install
case ${1:-} in
'') ;;
--uninstall | --purge) action=${1#--} ;;
--help | -h)
    sed -n '2,6s/^# \{0,1\}//p' "$0"
    exit 0
    ;;
*) fail "unknown option: $1; there are --uninstall and --purge" ;;
esac
[ "$(id -u)" -eq 0 ] || fail 'only root can install a service: run it with sudo'
command -v systemctl >/dev/null 2>&1 || fail 'there is no systemd here; deploy/Containerfile is another way'

# Another environment's settings must not reach into this one, and what is made must be readable by the service.
unset PYTHONPATH PYTHONHOME VIRTUAL_ENV
export PIP_DISABLE_PIP_VERSION_CHECK=1 PIP_USER=0 PIP_ROOT_USER_ACTION=ignore
umask 022
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd -P)
log=$(mktemp)
trap 'rm -f "$log"' EXIT
trap 'exit 130' HUP INT TERM

case $action in
install) install_all ;;
uninstall) uninstall ;;
purge)
    uninstall
    purge
    ;;
esac
