#!/usr/bin/env bash
# Every check there is, one line a stage: name, ok or FAILED, seconds, tests that were counted.
# The whole output of a stage is in target/test-logs/<stage>.log; its end is printed when it fails.
#
# SKIP_DENY_INSTALL=1  do not build cargo-deny when it is missing; it takes minutes
# FUZZ_SECONDS=30      how long each target of the fuzzer runs
# CHROMIUM=PATH        a browser elsewhere than /usr/bin/chromium
set -uo pipefail
cd "$(dirname "$0")/.." || exit 1

LOGS=target/test-logs
VENV=target/venv
TOOLS=target/tools
PYTHON=$VENV/bin/python
TAIL=60
passed=0
failed=0
mkdir -p $LOGS
export PATH="$PWD/$TOOLS/bin:$PATH"
export LITFLOOR="${CARGO_TARGET_DIR:-$PWD/target}/debug/litfloor"
export PYTHONDONTWRITEBYTECODE=1

# What is counted in a stage's output: one number a line.
count_passed() {
    sed -nE 's/^test result: .* ([0-9]+) passed;.*/\1/p
             s/^(#|ℹ) pass ([0-9]+)$/\2/p' "$1"
    sed -nE 's/^Ran ([0-9]+) tests? in .*/\1/p' "$1"
    # Python counts all that ran; what failed or was left out is taken off again.
    sed -nE 's/^(FAILED|OK) \((.*)\)$/\2/p' "$1" | grep -oE '[0-9]+' | sed 's/^/-/'
}
count_failed() {
    sed -nE 's/^test result: .* ([0-9]+) failed;.*/\1/p
             s/^(#|ℹ) (fail|cancelled) ([0-9]+)$/\3/p' "$1"
    sed -nE 's/^FAILED \((.*)\)$/\1/p' "$1" | tr ',' '\n' |
        sed -nE 's/^ ?(failures|errors|unexpected successes)=([0-9]+)$/\2/p'
}
sum() { awk '{ n += $1 } END { print n + 0 }'; }

# stage NAME COMMAND...: runs it, prints the stage's line. A command that ends with 77 could not
# be run here and says why in its last line.
stage() {
    local name=$1 log=$LOGS/$1.log begun=$SECONDS status word good bad counted=''
    shift
    "$@" >"$log" 2>&1
    status=$?
    good=$(count_passed "$log" | sum)
    bad=$(count_failed "$log" | sum)
    case $status in
    0) word=ok ;;
    77) word="NOT RUN: $(tail -n 1 "$log")" ;;
    *) word=FAILED ;;
    esac
    # A count of failures in a stage that says it is fine is a failure of the stage.
    if [ "$status" = 0 ] && [ "$bad" != 0 ]; then
        status=1 word=FAILED
    fi
    if [ "$word" = FAILED ] && [ "$bad" = 0 ]; then
        bad=1
    fi
    [ "$good" = 0 ] || counted="  $good passed"
    [ "$bad" = 0 ] || counted="$counted  $bad failed"
    passed=$((passed + good))
    failed=$((failed + bad))
    printf '%-20s %s  %d s%s\n' "$name" "$word" $((SECONDS - begun)) "$counted"
    if [ "$word" = FAILED ]; then
        printf -- '---- %s\n' "$log"
        # Where a test broke may lie far from the end: of Rust, in Node, in Python.
        grep -A 4 -m 10 'panicked at' "$log"
        grep -A 30 -m 5 '^not ok' "$log"
        grep -A 30 -m 5 -E '^(ERROR|FAIL): ' "$log"
        tail -n $TAIL "$log"
        printf -- '----\n'
        return 1
    fi
}

# must NAME COMMAND...: a stage without which the others mean nothing.
must() { stage "$@" || close; }

close() {
    echo "$passed passed, $failed failed"
    [ "$failed" = 0 ]
    exit
}

# --- what the tests need ---------------------------------------------------------------------

has() { command -v "$1" >/dev/null; }
at_least() { [ "$(printf '%s\n' "$1" "$2" | sort -V | head -n 1)" = "$1" ]; }

tools() {
    local missing=() packages=() root=()
    has cargo || missing+=("Rust 1.89 or later with rustfmt and clippy (rustup)")
    if ! has node || ! has npm || ! at_least 20.19 "$(node -p process.versions.node)"; then
        missing+=("Node 20.19 or later with npm")
    fi
    [ -x "${CHROMIUM:-/usr/bin/chromium}" ] || packages+=(chromium)
    { has tshark && has text2pcap; } || packages+=(tshark)
    has ngspice || packages+=(ngspice)
    # Only some tests of faults want these, and say so where they are missing.
    if [ "$(uname)" = Linux ] && has apt-get; then
        has ip || packages+=(iproute2)
        has faketime || packages+=(faketime)
    fi
    { has mosquitto || [ -x /usr/sbin/mosquitto ]; } || packages+=(mosquitto)
    has patch || packages+=(patch)
    has python3 || packages+=(python3)
    python3 -c 'import ensurepip, venv' 2>/dev/null || packages+=(python3-venv)
    if [ ${#packages[@]} -gt 0 ] && has apt-get; then
        [ "$(id -u)" = 0 ] || root=(sudo -n)
        if "${root[@]}" true; then
            "${root[@]}" apt-get update
            "${root[@]}" env DEBIAN_FRONTEND=noninteractive \
                apt-get install -y --no-install-recommends "${packages[@]}" && packages=()
        fi
    fi
    if [ ${#packages[@]} -gt 0 ]; then
        missing+=("${packages[*]} (so called on Debian; tshark and text2pcap come with Wireshark,"
            "and CHROMIUM=PATH names a browser elsewhere)")
    fi
    if has python3 && ! at_least 3.11 "$(python3 -c 'import platform; print(platform.python_version())')"; then
        missing+=("Python 3.11 or later")
    fi
    [ ${#missing[@]} = 0 ] && return
    echo "Install these, then try again:"
    printf '  %s\n' "${missing[@]}"
    return 1
}

python_packages() {
    local wanted=tests/outside/requirements.txt
    cmp -s $wanted $VENV/installed.txt && return
    python3 -m venv $VENV &&
        $PYTHON -m pip install --disable-pip-version-check -r $wanted &&
        cp $wanted $VENV/installed.txt
}

npm_packages() {
    local wanted=web/package-lock.json stamp=web/node_modules/installed.json
    cmp -s $wanted $stamp && return
    (cd web && npm ci --no-audit --no-fund) && cp $wanted $stamp
}

# --- the stages ------------------------------------------------------------------------------

formatted() { cargo fmt --check && cargo fmt --check --manifest-path fuzz/Cargo.toml; }

licences() {
    if ! has cargo-deny; then
        if [ -n "${SKIP_DENY_INSTALL:-}" ]; then
            echo "cargo-deny is missing, and SKIP_DENY_INSTALL is set"
            return 77
        fi
        if ! cargo install --locked cargo-deny --root $TOOLS; then
            echo "cargo-deny is missing and can't be installed; see $LOGS/licences.log"
            return 77
        fi
    fi
    cargo deny check licenses sources bans
}

must tools tools
must python-packages python_packages
must npm-packages npm_packages
stage rustfmt formatted
stage clippy cargo clippy --all-targets --keep-going -- -D warnings
stage no-dashboard cargo check --no-default-features --all-targets
stage licences licences
# Builds the program too, so that all later stages run the very same one.
must build cargo test --no-run
# What daemons of earlier runs have kept.
rm -rf "${CARGO_TARGET_DIR:-$PWD/target}/tmp/states"
stage rust-tests cargo test --no-fail-fast
stage tsc npm --prefix web run check
stage web-tests npm --prefix web test
# Some pages are tested against a made-up daemon, which serves them from web/dist.
stage web-build npm --prefix web run build
stage outside $PYTHON -W error -m unittest discover --start-directory tests/outside --verbose
stage pages npm --prefix web run test:pages
stage fuzz fuzz/run.sh "${FUZZ_SECONDS:-30}"
close
