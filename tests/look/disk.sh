#!/bin/sh
# Runs the program on a disk that is full, nearly full, and may only be read: a small tmpfs in a
# mount namespace of its own, which ends with the script. Holds what was reported against what is
# there, and fails where they differ.
# Usage: tests/look/disk.sh
# Needs Linux and the right to mount in a namespace of one's own (root, or user namespaces); says
# so and ends well where there is none. `cargo test full` tries the same with sinks that take no
# more, at every byte, everywhere.
set -eu
cd "$(dirname "$0")/../.."
if [ "${1:-}" != inside ]; then
    for needed in unshare setpriv jq; do
        if ! command -v "$needed" >/dev/null; then
            echo "disk.sh: $needed is not installed: nothing tried"
            exit 0
        fi
    done
    cargo build --quiet
    unshare=$(if unshare -m true 2>/dev/null; then echo "unshare -m"; else echo "unshare -rm"; fi)
    if ! $unshare true 2>/dev/null; then
        echo "disk.sh: this system lets nobody mount in a namespace: nothing tried"
        exit 0
    fi
    exec $unshare sh "$0" inside
fi
program=$PWD/${CARGO_TARGET_DIR:-target}/debug/steadyohm
work=$(mktemp -d)
trap 'cd /; umount "$work/disk" 2>/dev/null || true; rm -rf "$work"' EXIT
mkdir "$work/disk"
mount -t tmpfs -o size=600k tmpfs "$work/disk"
cd "$work"
export HOME="$work"
failed=0
wrong() {
    echo "WRONG: $*"
    failed=1
}
readings() {
    for _ in 1 2 3 4 5 6 7 8; do printf '0.50\n0.51\n'; done
}
lead() { # arguments...: a short check, which ends in retest; its lines in said, its complaints in told
    status=0
    readings | "$program" lead --json --from - --protocol number-lines --tick 0.12s \
        --record disk/kept --ledger disk/own.sqlite "$@" >said 2>told || status=$?
}
free() { # in kilobytes
    df -k --output=avail disk | tail -1 | tr -d ' '
}

# Something stands in the ledger, and a reader holds its log.
lead --tag before
[ "$status" = 3 ] || wrong "a check on a disk with room: status $status"

# From a disk with no room at all to one with room for everything.
reported="before"
count=0
entered=0
ended=0
for room in 0 4 8 12 16 20 24 28 32 36 40 48 56 64 72 80 96 112 128 160; do
    rm -f disk/ballast
    fill=$(($(free) - room))
    [ "$fill" -le 0 ] || dd if=/dev/zero of=disk/ballast bs=1k count="$fill" 2>/dev/null || true
    lead --tag "room-$room"
    count=$((count + 1))
    if [ "$status" = 2 ]; then
        # Told before anything was measured.
        [ ! -s said ] || wrong "room $room: refused, and said something"
        grep -q 'full\|No space left\|no room' told || wrong "room $room: $(cat told)"
    else
        [ "$status" = 3 ] || wrong "room $room: status $status: $(cat told)"
        [ "$(tail -1 said | jq -r .verdict)" = retest ] || wrong "room $room: no verdict"
        ended=$((ended + 1))
        if ! grep -q 'not entered' told; then
            reported="$reported room-$room"
            entered=$((entered + 1))
        else
            grep -q 'The verdict stands' told || wrong "room $room: $(cat told)"
        fi
        recording=$(tail -1 said | jq -r '.recording // empty')
        if [ -n "$recording" ]; then
            again=$("$program" replay --json "$recording" 2>/dev/null | tail -1 | jq -r .verdict) || true
            [ "$again" = retest ] || wrong "room $room: $recording replays to $again"
        else
            grep -q 'stops here' told || wrong "room $room: no recording, and not told: $(cat told)"
        fi
    fi
    sed "s/^/  $room KB free, status $status: /" told
done
rm -f disk/ballast
listed=$("$program" ledger list --all --json --ledger disk/own.sqlite | jq -r .tag | sort)
wanted=$(echo "$reported" | tr ' ' '\n' | sort)
for tag in $wanted; do
    echo "$listed" | grep -qx -- "$tag" || wrong "$tag was reported as kept and is not listed"
done
"$program" ledger check --ledger disk/own.sqlite || wrong "the ledger is not sound"
"$program" ledger rebuild --ledger disk/own.sqlite --from disk/kept >/dev/null
"$program" ledger check --ledger disk/own.sqlite | grep -q 'sound' || wrong "not sound after a rebuild"
echo "disk.sh: $count runs with 0 to 160 KB free: $((count - ended)) refused before anything was measured, $ended came to their verdict, $entered of these kept"

# A stock's table that takes no more: told, and what stands in it is whole.
rm -f disk/ballast
status=0
"$program" demo lead --stock 3 --pace 0.05 --rate 50 --json --record disk/stock \
    --ledger disk/own.sqlite >said 2>told &
demo=$!
tail -n +1 -f said --pid=$demo 2>/dev/null | while read -r line; do
    case $line in
        *'"event":"lead_done"'*)
            dd if=/dev/zero of=disk/ballast bs=1k 2>/dev/null || true
            break
            ;;
    esac
done
wait $demo || status=$?
done_leads=$(grep -c '"event":"lead_done"' said || true)
rows=$(grep -c '^D0' disk/stock/demo.csv || true)
[ "$rows" -ge 1 ] && [ "$rows" -le "$done_leads" ] || wrong "stock: $done_leads told, $rows in the table"
sed 's/^/  stock: /' told
[ -s told ] || wrong "stock: a full disk, and nothing told"
rm -f disk/ballast
status=0
"$program" demo lead --stock 3 --pace 0.05 --rate 50 --json --record disk/stock \
    --ledger disk/own.sqlite >said 2>told || status=$?
[ "$(grep -c '^D0' disk/stock/demo.csv)" -ge 3 ] || wrong "stock: it did not go on: $(cat told)"
head -1 said | jq -c .tally
echo "disk.sh: a stock on a full disk: $done_leads leads told, $rows in the table; with room again it went on to the end"

# A disk that may only be read.
mount -o remount,ro "$work/disk"
lead --tag never
[ "$status" = 2 ] && [ ! -s said ] || wrong "read-only: status $status"
sed 's/^/  read-only: /' told
"$program" ledger list --ledger disk/own.sqlite --limit 1 >/dev/null || wrong "read-only: no list"
"$program" ledger check --ledger disk/own.sqlite >/dev/null || wrong "read-only: no check"
"$program" report before --ledger disk/own.sqlite >page.html || wrong "read-only: no page"
status=0
"$program" report before --ledger disk/own.sqlite --out disk/page.html 2>told || status=$?
[ "$status" = 2 ] || wrong "read-only: a page was written"
sed 's/^/  read-only: /' told
echo "disk.sh: a disk that may only be read: told before anything was measured; listed, checked and reported as ever"
exit $failed
