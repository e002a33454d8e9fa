# Two commands. `make demo` needs Rust, Python 3.11 or newer and make; so does `make test`.
PYTHON ?= python3
export PYTHON

.PHONY: demo test
demo:
	@bash tests/demo.sh

test:
	@bash tests/check.sh
