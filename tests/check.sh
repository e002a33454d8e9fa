#!/usr/bin/env bash
# Every check there is. Builds into a cache folder outside the checkout, which may be empty.
set -eu
cd "$(dirname "$0")/.."
. tests/steps.sh

limit_seconds=3600
cache=${RELAMP_CACHE:-${XDG_CACHE_HOME:-$HOME/.cache}/relamp-ci}
mkdir -p "$cache"
cache=$(cd "$cache" && pwd)
export CARGO_TARGET_DIR=$cache/target
export CARGO_TERM_COLOR=never
# Incremental files only fill the cache: every run starts from a commit.
export CARGO_INCREMENTAL=0
export MPLBACKEND=agg
venv=$cache/venv

# Cargo tells old from new by the times of files alone: what another checkout built here would pass for ours.
if [ "$(cat "$cache/checkout" 2>/dev/null)" != "$PWD" ]; then
    find src tests examples benches data -name '*.rs' -exec touch {} +
    echo "$PWD" >"$cache/checkout"
fi

lint_rust() {
    cargo clippy --locked --workspace --all-targets -- -D warnings
    cargo clippy --locked --workspace --all-targets --features python -- -D warnings
}

# Default and `python` are compiled by clippy; the other half of the feature sets here.
feature_sets() {
    cargo check --locked
    cargo check --locked --features python
    cargo clippy --locked --all-targets --features polars -- -D warnings
    cargo clippy --locked --features python,polars -- -D warnings
}

# The core must never know about Python.
no_python_in_core() {
    local tree
    tree=$(cargo tree --locked -e no-dev --prefix none)
    grep -q '^nalgebra ' <<<"$tree" || { echo "cargo tree shows no nalgebra: this check sees nothing"; return 1; }
    if grep -E '^(pyo3|numpy|arrow|polars)' <<<"$tree"; then return 1; fi
}

core_tests() {
    cargo test --locked --workspace --lib --bins --tests
}

doc_tests() {
    cargo test --locked --workspace --doc
}

examples() {
    local file seen=0
    for file in examples/*.rs; do
        [ -e "$file" ] || continue
        seen=$((seen + 1))
        cargo run --quiet --locked --release --example "$(basename "$file" .rs)"
    done
    echo "$seen examples ran"
}

benches_once() {
    local file seen=0
    for file in benches/*.rs; do
        [ -e "$file" ] || continue
        seen=$((seen + 1))
    done
    [ "$seen" -eq 0 ] || cargo bench --locked --benches -- --test
    echo "$seen bench files ran once"
}

# In debug: release would cost a quarter of an hour for a border that only carries columns.
polars_tests() {
    cargo test --locked --profile dev --features polars --lib frame
}

python_lint() {
    "$venv/bin/ruff" check .
    "$venv/bin/ruff" format --check .
}

python_tests() {
    "$venv/bin/python" -m pytest tests/python
}

stubs() {
    "$venv/bin/python" -m mypy.stubtest relamp --ignore-missing-stub --allowlist tests/python/stubtest-allow.txt
}

notebooks() {
    "$venv/bin/python" -m pytest -p no:cacheprovider --nbmake --nbmake-timeout=120 notebooks
}

sdist() {
    rm -rf "$cache/sdist"
    "$venv/bin/maturin" sdist --out "$cache/sdist"
    # What is missing from the archive shows when it is built alone: the core here, the wheel at release.
    tar -xzf "$cache/sdist"/relamp-*.tar.gz -C "$cache/sdist"
    (cd "$cache/sdist"/relamp-*/ && cargo check --locked --features python)
}

rust_docs() {
    RUSTDOCFLAGS="-D warnings" cargo doc --locked --workspace --no-deps
}

licences() {
    if cargo deny --version >/dev/null 2>&1; then
        cargo deny --offline check licenses bans sources
    else
        echo "cargo deny is not installed: left out"
    fi
}

step "tools" need_tools
step "cargo fmt" cargo fmt --all --check
step "Python environment" environment "$venv" requirements.txt requirements-build.txt requirements-dev.txt
step "ruff" python_lint
step "no Python in the core" no_python_in_core
step "clippy, without and with bindings" lint_rust
step "rustdoc" rust_docs
step "core tests" core_tests
step "doc tests" doc_tests
step "wheel in release mode" wheel "$venv" "$cache/wheels"
step "Python tests" python_tests
step "stubs" stubs
step "notebooks" notebooks
step "examples" examples
step "benches once" benches_once
step "sdist" sdist
step "feature sets" feature_sets
step "polars tests in debug" polars_tests
step "cargo deny" licences
steps_summary
if [ "$SECONDS" -gt "$limit_seconds" ]; then
    echo "the checks took over $((limit_seconds / 60)) minutes in all"
    exit 1
fi
echo "every check passed"
