# Needs Go, git and make. "make test" also needs Chromium, PostgreSQL and Redis; on Debian, as
# root, it installs what is missing.

# nodynamic: HEIC pictures are read by the decoder that is built in, never by a library that
# happens to be installed.
export GOFLAGS := $(shell go env GOFLAGS) -tags=nodynamic

.PHONY: help build run test check race clean

help:
	@echo "make run    build, serve on http://127.0.0.1:8080 with demo stock and a demo inquiry"
	@echo "make test   run every test, on the embedded default and on PostgreSQL and Redis"
	@echo "make check  formatting, go vet, staticcheck"
	@echo "make race   the concurrent packages under the race detector"
	@echo "make build  bin/leafgauge"
	@echo "make clean  remove bin/ (./data stays)"

build:
	go build -o bin/leafgauge ./cmd/leafgauge

# SERVE passes more flags: make run SERVE="--listen 127.0.0.1:9000"
run: build
	@exec ./bin/leafgauge serve --demo testdata $(SERVE)

# GOTEST passes more flags: make test GOTEST="-run Photos -v"
test:
	.ci/need chromium chromium chromium-browser google-chrome
	go run ./internal/testservers/cmd -- go test -timeout 15m $(GOTEST) ./...

check:
	@unformatted="$$(gofmt -l .)"; if [ -n "$$unformatted" ]; then echo "run gofmt -w on:"; echo "$$unformatted"; exit 1; fi
	go vet ./...
	go tool staticcheck ./...

# -short leaves out the browser, which "make test" has run.
race:
	go run ./internal/testservers/cmd -- go test -race -short -timeout 15m ./worker ./store ./api ./quote

clean:
	rm -rf bin
