#!/bin/sh
# Writes hardware/locks anew: every library of the bench, of its tests and of the boards, with version and hashes, so that
# two boards set up a month apart are the same. Run after the lists in pyproject.toml were changed, and to take later
# versions over; look at what changed and run the tests before it is kept. Needs uv (pip install uv).
set -eu

cd -- "$(dirname -- "$0")/.."
build="setuptools>=69
Babel>=2.14"

# lock NAME [OPTION ...]: one set, in the versions that the set of the tests has.
lock() {
    name=$1
    shift
    printf '%s\n' "$build" | uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-header \
        --no-annotate --constraint hardware/locks/test.txt --output-file "hardware/locks/$name.txt" pyproject.toml - "$@"
}

printf '%s\n' "$build" | uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-header \
    --no-annotate --upgrade --output-file hardware/locks/test.txt pyproject.toml - --extra test
lock bench
lock pi --extra pi
lock pi5 --extra pi5
