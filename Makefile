.DEFAULT_GOAL := help
.PHONY: help test demo bench soak fmt clean deb fuzz

help: ## say what there is
	@grep -E '^[a-z]+:.*## ' $(MAKEFILE_LIST) | sed -E 's/^([a-z]+):.*## /  make \1\t/'

test: ## install what the tests need, and pass all of them: one line a stage
	@tests/all.sh

demo: ## a simulated floor, console and nodes; the dashboard on http://127.0.0.1:8080
	cargo run --release -- demo

bench: ## litfloor against a bare forwarder, half an hour; BENCH=fast,browser chooses rows, QUICK=1 is a short look
	cargo build --release --bin litfloor --example wire_bench
	target/release/examples/wire_bench run $(if $(QUICK),--quick) $(if $(BENCH),--rows $(BENCH)) $(ARGS)

soak: ## an event's hours with faults made at random: MINUTES=30, SEED=1
	cargo build --release --bin litfloor --example soak
	target/release/examples/soak --minutes $(or $(MINUTES),30) --seed $(or $(SEED),1)

deb: ## a Debian package in target/deb, with a systemd unit, manual pages and completions
	cargo build --release --bin litfloor
	packaging/deb.sh target/release/litfloor target/deb

fuzz: ## strangers say whatever they like, FUZZ_SECONDS=600 for each of six readers; needs a nightly toolchain
	fuzz/run.sh $(or $(FUZZ_SECONDS),600) $(TARGETS)

fmt: ## format the Rust sources
	cargo fmt
	cargo fmt --manifest-path fuzz/Cargo.toml

clean: ## throw away all that was built
	rm -rf target web/node_modules web/dist
