# Sourced by demo.sh and check.sh: named steps with their seconds, and the Python environment.

export PIP_DISABLE_PIP_VERSION_CHECK=1
PYTHON=${PYTHON:-python3}
steps_log=""

# step NAME COMMAND...: runs the command, prints and keeps its seconds, and stops the script if it fails.
step() {
    local name=$1 began=$SECONDS status=0
    shift
    printf '\n== %s\n' "$name"
    # In a subshell of its own, so that the first failing command ends the step: `||` would switch that off.
    set +e
    (set -e; "$@")
    status=$?
    set -e
    local took=$((SECONDS - began))
    steps_log+=$(printf '%6d s  %s' "$took" "$name")$'\n'
    if [ "$status" -ne 0 ]; then
        printf '== %s FAILED after %d s (exit status %d)\n' "$name" "$took" "$status"
        steps_summary
        exit 1
    fi
    printf '== %s: %d s\n' "$name" "$took"
}

steps_summary() {
    printf '\nSeconds by step\n%s%6d s  in all\n' "$steps_log" "$SECONDS"
}

# The tools, or a plain sentence on what is missing.
need_tools() {
    command -v cargo >/dev/null 2>&1 || { echo "cargo was not found: install Rust 1.89 or newer, then run this again"; return 1; }
    "$PYTHON" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null || {
        echo "$PYTHON is missing or older than 3.11: install Python 3.11 or newer, or name one with PYTHON=..."
        return 1
    }
    "$PYTHON" -c 'import venv, ensurepip' 2>/dev/null || {
        echo "$PYTHON has no venv module: install it (on Debian and Ubuntu the package python3-venv)"
        return 1
    }
}

# environment FOLDER REQUIREMENTS...: a virtual environment that holds exactly what the lock files name.
environment() {
    local folder=$1
    shift
    local lock
    lock=$(cat "$@" | cksum; "$PYTHON" -c 'import sys; print(sys.version, sys.prefix)')
    if [ -x "$folder/bin/python" ] && [ "$(cat "$folder/lock" 2>/dev/null)" = "$lock" ]; then
        return 0
    fi
    rm -rf "$folder"
    "$PYTHON" -m venv "$folder" || return 1
    local arguments=()
    local file
    for file in "$@"; do
        arguments+=(-r "$file")
    done
    "$folder/bin/python" -m pip install --quiet "${arguments[@]}" || return 1
    printf '%s\n' "$lock" >"$folder/lock"
}

# wheel ENVIRONMENT FOLDER: builds the wheel in release mode and installs it into the environment.
wheel() {
    local environment=$1 folder=$2
    rm -rf "$folder"
    "$environment/bin/maturin" build --quiet --release --locked --interpreter "$environment/bin/python" --out "$folder" || return 1
    "$environment/bin/python" -m pip install --quiet --no-deps --force-reinstall "$folder"/relamp-*.whl
}
