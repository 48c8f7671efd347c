# `make help` names every target. Each does its own set-up, packages included, on a fresh Debian 12 machine.
.PHONY: help setup demo test figures lint format clean

help:
	@echo "make demo             build, run the invented loans of Tern 32 and Curlew 27, print where the reports are"
	@echo "make test             the whole suite: lint, tests, sanitizers, fuzz corpora"
	@echo "make test ONLY=name   the tests whose name contains 'name' (no lint, no sanitizers)"
	@echo "make figures          every figure the project promises, measured: name, value, unit, bar, verdict"
	@echo "make figures ONLY=name"
	@echo "make lint             formatting and static analysis (make format repairs the formatting)"

setup:
	@scripts/install-packages.sh

demo: setup
	@scripts/demo.sh

test: setup
	@scripts/test.sh "$(ONLY)"

figures: setup
	@scripts/figures.sh "$(ONLY)"

lint: setup
	@scripts/lint.sh

format: setup
	@git ls-files --cached --others --exclude-standard '*.h' '*.cpp' | xargs clang-format-16 -i

clean:
	rm -rf build out
