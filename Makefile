# `make demo` needs Rust, Python 3.11 or newer and make; so does `make test`. `make coverage` needs Rust; it simulates for
# about an hour and writes src/guide/coverage.md again.
PYTHON ?= python3
export PYTHON

.PHONY: demo test coverage
demo:
	@bash tests/demo.sh

test:
	@bash tests/check.sh

coverage:
	@cargo run --release --locked --example coverage -- $$(date +%Y-%m-%d)
