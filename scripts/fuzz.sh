#!/bin/sh
# fuzz.sh DURATION runs every fuzz test of the module for that long, one after the other. What it
# finds lies in testdata/fuzz/ of the package: commit it with the repair.
set -eu

for pkg in $(go list ./...); do
	for name in $(go test -list '^Fuzz' "$pkg" | grep '^Fuzz' || true); do
		echo "$pkg $name"
		go test -run '^$' -fuzz "^$name\$" -fuzztime "$1" "$pkg"
	done
done
