#!/usr/bin/env bash
# See that programs are here, each given as PROGRAM:DEBIAN-PACKAGE; install what is missing where
# that is allowed, and otherwise name the packages and stop.
set -euo pipefail
export PATH="$PATH:/usr/sbin:/sbin" DEBIAN_FRONTEND=noninteractive

missing() {
    local pair
    for pair in "$@"; do
        command -v "${pair%%:*}" >/dev/null || echo "${pair##*:}"
    done
}

packages=$(missing "$@")
[ -n "$packages" ] || exit 0

as_root=()
if [ "$(id -u)" -ne 0 ]; then
    as_root=(sudo -n)
fi
log=$(mktemp)
trap 'rm -f "$log"' EXIT
# shellcheck disable=SC2086  # one word a package
if ! { "${as_root[@]}" apt-get update && "${as_root[@]}" apt-get install -y --no-install-recommends $packages
     } >"$log" 2>&1 </dev/null; then
    tail -n 5 "$log" >&2
fi

still=$(missing "$@")
if [ -n "$still" ]; then
    echo "The tests need these Debian packages, and they may not be installed from here:" >&2
    echo "    apt-get install" $still >&2
    exit 1
fi
