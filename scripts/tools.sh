#!/bin/sh
# tools.sh checks what must be there before anything else: Go, Node, git.
set -eu

fail() { echo "$1" >&2; exit 1; }

# at_least HAVE WANT compares major.minor.
at_least() {
	[ "$(printf '%s\n%s\n' "$2" "$1" | sort -V | head -n 1)" = "$2" ]
}

command -v git >/dev/null || fail "git is missing. Run: apt-get install git"
command -v go >/dev/null || fail "Go is missing: version 1.26 or later is needed, in PATH. See https://go.dev/doc/install"
go=$(go env GOVERSION | sed 's/^go//; s/ .*//')
at_least "$go" 1.26 || fail "Go $go is too old: version 1.26 or later is needed. See https://go.dev/doc/install"
command -v node >/dev/null || fail "Node is missing: version 20 or later is needed, in PATH. See https://nodejs.org"
node=$(node --version | sed 's/^v//')
at_least "$node" 20 || fail "Node $node is too old: version 20 or later is needed. See https://nodejs.org"
