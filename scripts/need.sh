#!/bin/sh
# need.sh PACKAGE… makes sure that Debian packages are there: installs what is missing as root or
# through sudo without a password; otherwise prints the one line to run and fails.
set -eu

missing=
for p in "$@"; do
	if ! dpkg-query -W -f '${Status}' "$p" 2>/dev/null | grep -q 'ok installed'; then
		missing="$missing $p"
	fi
done
[ -n "$missing" ] || exit 0

if ! command -v apt-get >/dev/null; then
	echo "These Debian packages, or what your system calls them, are needed:$missing" >&2
	exit 1
fi
if [ "$(id -u)" = 0 ]; then
	as=
elif command -v sudo >/dev/null && sudo -n true 2>/dev/null; then
	as="sudo"
else
	echo "Something is missing. Run: sudo apt-get update && sudo apt-get install -y --no-install-recommends$missing" >&2
	exit 1
fi

echo "installing$missing" >&2
log=$(mktemp)
trap 'rm -f "$log"' EXIT
install() { $as env DEBIAN_FRONTEND=noninteractive apt-get install -y --no-install-recommends $missing >"$log" 2>&1; }
# The package lists may be old or not there at all.
if ! install; then
	$as apt-get update >"$log" 2>&1 && install || { cat "$log" >&2; exit 1; }
fi
