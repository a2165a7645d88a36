# What must be there: Go 1.26, Node 20, make, git. The rest comes by apt, as root or through sudo;
# otherwise the one line to run is printed.

# What the program itself runs, what its demo and tests add, and what only the measuring adds.
RUN_NEEDS      := ffmpeg
DEMO_NEEDS     := $(RUN_NEEDS) fluidsynth timgm6mb-soundfont espeak-ng
TEST_NEEDS     := $(DEMO_NEEDS) libxml2-utils python3-mir-eval chromium postgresql aubio-tools poppler-utils
ACCURACY_NEEDS := $(TEST_NEEDS) fluid-soundfont-gm
FIT_NEEDS      := $(DEMO_NEEDS) freepats

FUZZ_TIME ?= 30s

# Where the takes lie that the ear's last nets are taught with.
FIT_AGAIN ?= $(or $(TMPDIR),/tmp)/antiphon-fit-again

# Development takes and the W3C's schemas are used where they lie beside the checkout, and can be named.
ifneq ($(wildcard ../shared/standards),)
export ANTIPHON_SHARED    ?= $(abspath ../shared)
export ANTIPHON_STANDARDS ?= $(abspath ../shared/standards)
endif

.PHONY: assets demo demo-data simulate test fuzz fit accuracy tone bench lint fmt tools

# assets builds what the program embeds. `go build ./cmd/antiphon` works without it.
assets: tools
	@[ -d scripts/web/node_modules ] || (cd scripts/web && npm ci --ignore-scripts --no-audit --no-fund)
	go generate ./...

# demo sets a fresh machine up and opens a studio in our invented scenario, with takes that were just heard.
demo: assets
	@scripts/need.sh $(DEMO_NEEDS)
	go build -o antiphon ./cmd/antiphon
	./antiphon demo

# demo-data hears the takes of the demo's past weeks anew, with the ear as it is now: about ten minutes.
demo-data: assets
	@scripts/need.sh $(DEMO_NEEDS)
	go run ./internal/scenario/record

# test checks format and vet, builds without and with assets, and runs the whole suite. A fresh checkout
# also shows what the program says without its assets.
test: tools
	@scripts/need.sh $(TEST_NEEDS)
	@unformatted=$$(gofmt -l cmd internal) && if [ -n "$$unformatted" ]; then echo "run make fmt: $$unformatted"; exit 1; fi
	go build -o /dev/null ./cmd/antiphon
	go test -run 'WithoutTheLibrary' ./internal/engrave
	$(MAKE) --no-print-directory assets
	scripts/web/node_modules/.bin/tsc -p scripts/web/tsconfig.json
	go vet ./...
	go test -timeout 20m ./...

# fuzz runs every fuzz test for FUZZ_TIME; `make test` only replays what was found.
fuzz: tools
	scripts/fuzz.sh $(FUZZ_TIME)

# accuracy renders takes with known truth, hears them, runs the peers on the same files, and prints the table of docs/measured.md.
accuracy: assets
	@scripts/need.sh $(ACCURACY_NEEDS)
	go run ./internal/rehearse/accuracy -peers -page docs/measured.md

# tone plays scores at known places of the string, hears where, and writes the tables of docs/measured.md, "Where the string was plucked".
tone: assets
	@scripts/need.sh $(ACCURACY_NEEDS)
	go run ./internal/tone/measure -page docs/measured.md

# fit teaches the ear's nets anew from takes with known truth, and writes internal/ear/models.bin: hours.
# What `begins` says is heard by the others, so it is taught first; the `-again` nets last, with other takes that have about as
# many faults as real ones.
fit: assets
	@scripts/need.sh $(FIT_NEEDS)
	@[ -d scripts/peers/node_modules ] || (cd scripts/peers && npm ci --ignore-scripts --no-audit --no-fund)
	go run ./internal/rehearse/fit -model begins -write
	go run ./internal/rehearse/fit -model written,stranger,onset -strangers 1 -write
	go run ./internal/rehearse/fit -model written-again,stranger-again -draw 20202 -n 7200 -faults 1.5 -begins 400 -strangers 1 -out $(FIT_AGAIN) -write

# simulate lets plans, forecasts and warnings run in an invented studio whose truth is known, from a fresh seed, and prints one
# `name value` a line; SIM=full takes 500 students, SEED=n one seed again, SETTINGS=file another studio, PLOT=file.svg
# draws how reliable the warnings were.
simulate:
	@go run ./internal/rehearse/year/simulate $(if $(filter full,$(SIM)),-full) $(if $(SEED),-seed $(SEED)) $(if $(SETTINGS),-settings $(SETTINGS)) $(if $(PLOT),-plot $(PLOT))

# bench runs the benchmarks; each reports in its user's unit, such as x-real-time.
bench: tools
	@scripts/need.sh $(TEST_NEEDS)
	go test -run '^$$' -bench . -benchtime 5x ./...

# lint runs the static checks that are too slow to build for every test run.
lint: tools
	go vet ./...
	go run honnef.co/go/tools/cmd/staticcheck@v0.8.2 ./...

# fmt formats the Go code.
fmt:
	gofmt -w cmd internal

tools:
	@scripts/tools.sh
