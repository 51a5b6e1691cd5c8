#!/bin/sh
# Sets up Cornerwise in this folder, from nothing: system libraries (where missing), a virtual environment in .venv, and
# Cornerwise in it; with --tests also what its tests need. Asks nothing, may be run again at any time, and does nothing
# when nothing is missing. Status: 0 ready; 64 bad usage; 69 something must be done first that this script may not do (it
# is said, or the line to run is printed).
set -eu

here=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
cd "$here"
venv=$here/.venv
# Kivy has no wheel for Python 3.14 and later; the code needs 3.11.
candidates="python3.13 python3.12 python3.11 python3"

# What the screen needs without a desktop: its GL in software or hardware (Kivy's window loads libGL.so.1 even where it
# draws by GLES), and multi-touch. A desktop has most of them already.
screen_libraries="libgbm1 libdrm2 libegl1 libgles2 libgl1 libgl1-mesa-dri libmtdev1"

# installed PACKAGE: under its name, or under the one it got with 64-bit time (Debian 13).
installed() {
    for name in "$1" "$1t64"; do
        case $(dpkg-query -W -f '${db:Status-Status}' "$name" 2>/dev/null) in installed) return 0 ;; esac
    done
    return 1
}

# board: pi5, pi or none. The first two are the extras of pyproject.toml: which of the two GPIO libraries belongs here.
board() {
    case $(tr -d '\0' 2>/dev/null </proc/device-tree/model || true) in
        "Raspberry Pi 5"* | "Raspberry Pi Compute Module 5"*) echo pi5 ;;
        "Raspberry Pi"*) echo pi ;;
        *) echo none ;;
    esac
}

# build_packages BOARD: what its GPIO libraries need to be built, for most Pythons get them as source only.
build_packages() {
    case $1 in
        pi) echo "gcc libc6-dev python3-dev" ;;
        pi5) echo "gcc libc6-dev python3-dev swig" ;;
    esac
}

say() { printf 'setup: %s\n' "$*"; }
stop() {
    printf 'setup: %s\n' "$*" >&2
    exit 69
}

# runs PYTHON: it starts, and its version is one that Cornerwise and Kivy know (a version manager's shim may not start).
runs() { "$1" -c 'import sys; sys.exit(not (3, 11) <= sys.version_info[:2] <= (3, 13))' >/dev/null 2>&1; }

# makes_environments PYTHON: Debian keeps the two modules for that in a package of its own.
makes_environments() { "$1" -c 'import ensurepip, venv' >/dev/null 2>&1; }

find_python() {
    for name in $candidates; do
        if runs "$name" && makes_environments "$name"; then
            "$name" -c 'import sys; print(sys.executable)'
            return 0
        fi
    done
    return 1
}

missing_packages() {
    # Updates are signed with ssh-keygen, by the tests as well.
    for package in $screen_libraries openssh-client; do installed "$package" || printf ' %s' "$package"; done
    find_python >/dev/null || printf ' python3 python3-venv'
    for package in $(build_packages "$board"); do installed "$package" || printf ' %s' "$package"; done
}

# install_packages PACKAGE...: as root, or through sudo where it asks for no password.
install_packages() {
    if [ "$(id -u)" = 0 ]; then
        as_root="env"
    elif command -v sudo >/dev/null 2>&1 && sudo -n true 2>/dev/null; then
        as_root="sudo env"
    elif command -v sudo >/dev/null 2>&1; then
        stop "these system packages are missing; run this line, then the same command again:
  sudo apt-get update && sudo apt-get install -y --no-install-recommends $*"
    else
        stop "these system packages are missing; run this line as root, then the same command again:
  apt-get update && apt-get install -y --no-install-recommends $*"
    fi
    say "installing system packages: $*"
    apt_get="$as_root DEBIAN_FRONTEND=noninteractive apt-get -q -o DPkg::Lock::Timeout=300"
    if ! { $apt_get update && $apt_get install -y --no-install-recommends "$@"; }; then
        stop "the system packages could not be installed; is the network there? Then run the same command again."
    fi
}

tests=""
case ${1:-} in
    "") ;;
    --tests) tests=tests ;;
    *) printf 'setup: unknown option %s (known: --tests)\n' "$1" >&2; exit 64 ;;
esac
board=$(board)
[ -w "$here" ] || stop "this folder cannot be written to: $here
  copy the checkout to a place of your own and run the same command there"

if command -v dpkg-query >/dev/null 2>&1; then
    missing=$(missing_packages)
    # shellcheck disable=SC2086  # a list of names
    [ -z "$missing" ] || install_packages $missing
else
    say "no Debian package system here: the screen needs what these contain: $screen_libraries"
fi
python=$(find_python) || stop "no Python 3.11 to 3.13 with the venv module found (looked for: $candidates)"

# What the environment was made from, in three lines: place, board and Python (another one: made anew), the list of
# libraries (another one: brought up to date), and whether the tests' are in it. All unchanged: nothing needs doing.
stamp=$venv/set-up-from
place=$(printf '%s' "$here $board $("$python" --version 2>&1)" | cksum)
libraries_listed=$(cat pyproject.toml hardware/setup.sh hardware/locks/*.txt ui/speech/locale/*.po | cksum)
if [ -e "$venv" ] && [ ! -e "$stamp" ]; then
    stop "there is a .venv here that this script did not make: $venv
  move it away (mv .venv .venv-mine) or remove it, then run the same command again"
fi
had_place=$(sed -n 1p "$stamp" 2>/dev/null || true)
had_libraries=$(sed -n 2p "$stamp" 2>/dev/null || true)
had_tests=$(sed -n 3p "$stamp" 2>/dev/null || true)
# Whoever had the tests' libraries keeps them.
[ "$had_place" != "$place" ] || [ "$had_tests" != tests ] || tests=tests
if ! runs "$venv/bin/python"; then had_place=""; fi
if [ -x "$venv/bin/cornerwise" ] && [ "$had_place" = "$place" ] && [ "$had_libraries" = "$libraries_listed" ] &&
    [ "$had_tests" = "$tests" ]; then
    say "ready (nothing to do)"
    exit 0
fi

if [ "$had_place" != "$place" ]; then
    say "making .venv with $("$python" --version 2>&1) ($python)"
    "$python" -m venv --clear "$venv"
    : >"$stamp"
fi

locks="-r hardware/locks/bench.txt"
size="330 MB"
[ "$board" = none ] || locks="$locks -r hardware/locks/$board.txt"
if [ -n "$tests" ]; then
    locks="$locks -r hardware/locks/test.txt"
    size="650 MB"
fi
say "installing Cornerwise and its libraries into .venv: $size on the disk, some minutes the first time"
# Each library in the version and with the checksum that hardware/locks names: two set-ups a month apart are the same.
# PYPI=1: the Pi 5's GPIO library is built whole, not against a system library that Debian has not.
install() { PYPI=1 "$venv/bin/python" -m pip install --disable-pip-version-check --no-input "$@"; }
log=$venv/set-up.log
# told_now: how many libraries are there, of how many at most (pip passes over those of other systems).
told_now() {
    here_now=$(sed -n 's/^Collecting \([A-Za-z0-9._-]*\).*/\1/p' "$log" | sort -u | wc -l)
    [ "$here_now" = "$told" ] || [ "$here_now" = 0 ] || say "  library $here_now of at most $listed"
    told=$here_now
}
# shellcheck disable=SC2046,SC2086  # lists of options
listed=$(cat $(printf '%s' "$locks" | sed 's/-r //g') | sed -n 's/^\([a-z0-9._-]*\)==.*/\1/p' | sort -u | wc -l)
told=0
# In the background, so that what comes is told: minutes without a word look like a fault.
# shellcheck disable=SC2086  # a list of options
install --progress-bar=off --require-hashes $locks >"$log" 2>&1 &
pip=$!
while kill -0 "$pip" 2>/dev/null; do
    sleep 5
    told_now
done
told_now
if ! wait "$pip" || ! install --progress-bar=off --no-deps --no-build-isolation -e . >>"$log" 2>&1; then
    tail -n 5 "$log" >&2
    stop "the Python libraries could not be installed; is the network there? Then run the same command again."
fi
say "installed: $(du -sm "$venv" | sed 's/[^0-9].*//') MB in .venv"
printf '%s\n' "$place" "$libraries_listed" "$tests" >"$stamp"
say "ready"
