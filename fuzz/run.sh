#!/usr/bin/env bash
# Lets strangers say whatever they like: fuzz/run.sh [SECONDS [TARGET...]]
#
# Every target runs for SECONDS (30), as many at once as there are processors and two at most, with the seeds of
# fuzz/seeds and all that earlier runs found (target/fuzz/corpus). One line each; what made one fail is kept in
# target/fuzz/found, and `target/fuzz/…/release/TARGET FILE` shows it again. Ends with 77 where it can't be run.
set -uo pipefail
cd "$(dirname "$0")/.." || exit 1

SECONDS_EACH=${1:-30}
shift
ALL=(artnet floor_file sheet readings api live)
[ $# -gt 0 ] && ALL=("$@")
PLACE=$PWD/target/fuzz
export PATH="$PWD/target/tools/bin:$PATH"
export RUSTUP_TOOLCHAIN=nightly

not_run() {
    echo "$1"
    exit 77
}

# An input must not take longer than this, in seconds, nor the process more than this, in MiB.
LONGEST=20
MEMORY=2048

run_one() {
    local target=$1 log=$PLACE/$1.log corpus=$PLACE/corpus/$1 found=$PLACE/found/$1 status words=()
    mkdir -p "$corpus" "$found"
    [ -f "fuzz/words/$target.dict" ] && words=("-dict=fuzz/words/$target.dict")
    "$BIN/$target" "$corpus" "fuzz/seeds/$target" -max_total_time="$SECONDS_EACH" -timeout=$LONGEST \
        -rss_limit_mb=$MEMORY -print_final_stats=1 -artifact_prefix="$found/" "${words[@]}" >"$log" 2>&1
    status=$?
    local count rate size coverage seeds
    count=$(sed -nE 's/^stat::number_of_executed_units: *([0-9]+)$/\1/p' "$log")
    rate=$(sed -nE 's/^stat::average_exec_per_sec: *([0-9]+)$/\1/p' "$log")
    read -r coverage size < <(sed -nE 's/^#[0-9]+.* cov: ([0-9]+) .* corp: ([0-9]+)\/.*/\1 \2/p' "$log" | tail -n 1)
    seeds=$(find "fuzz/seeds/$target" -type f | wc -l)
    printf '%-10s %3d seeds  %8d executions  %6d/s  corpus %5d  coverage %6d  ' \
        "$target" "$seeds" "${count:-0}" "${rate:-0}" "${size:-0}" "${coverage:-0}"
    # No executions is no success, whatever the program ended with.
    if [ $status = 0 ] && [ "${count:-0}" -gt 0 ]; then
        echo ok
        return 0
    fi
    echo "FAILED: $(sed -nE 's/.*Test unit written to (.*)$/\1/p' "$log" | tail -n 1) (see $log)"
    grep -A 3 -m 3 'panicked at' "$log"
    return 1
}

if [ -n "${FUZZ_INNER:-}" ]; then
    run_one "${ALL[0]}"
    exit
fi

rustup run nightly rustc --version >/dev/null 2>&1 ||
    not_run "no nightly toolchain, which the fuzzer needs: rustup toolchain install nightly --profile minimal"
if ! command -v cargo-fuzz >/dev/null; then
    RUSTUP_TOOLCHAIN=stable cargo install --locked cargo-fuzz --root target/tools ||
        not_run "cargo-fuzz is missing and can't be installed"
fi
mkdir -p "$PLACE"
# No sanitizer: all of litfloor is safe Rust, and without one it runs several times as fast.
cargo fuzz build --sanitizer none --debug-assertions --codegen-units 8 --target-dir "$PLACE" || exit 1
BIN=$PLACE/$(rustc -vV | sed -n 's/^host: //p')/release
export BIN FUZZ_INNER=1
at_once=$(($(nproc) < 2 ? 1 : 2))
printf '%s\n' "${ALL[@]}" | xargs -P $at_once -I{} "$PWD/fuzz/run.sh" "$SECONDS_EACH" {}
