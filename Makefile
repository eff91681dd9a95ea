# Thin aliases of run.py. Bare `make` lists them.
.PHONY: help setup fmt check test outside docs bench demo
help: ## list the targets
	@grep -hE '^[a-z]+: ## ' Makefile | sed -E 's/: ## /\t/' | expand -t 10
setup: ## prepare: .venv, packages, compiled solver
	@python3 run.py setup
fmt: ## put the source into its form
	@python3 run.py fmt
check: ## before each commit: linters, types, import contracts, quick tests
	@python3 run.py check
test: ## everything
	@python3 run.py test
outside: ## our figures against figures of others, as a table
	@python3 run.py outside
docs: ## the examples in the source, and what must be documented
	@python3 run.py docs
bench: ## the benchmarks
	@python3 run.py bench
demo: ## the whole job on the built-in example
	@python3 run.py demo
