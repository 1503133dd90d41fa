#!/bin/sh
# Renders the report of every golden recording, of jobs and of batches with headless Chromium, to
# PDF on A4 and on Letter and to a picture, and fails where one does not print on a single sheet.
# Usage: tests/look/report.sh [FOLDER]   (the pictures go to FOLDER; a temporary one without)
# With VNU=vnu.jar and java every page also goes through the Nu HTML Checker (the validator of the
# HTML standard's own community; `npm install vnu-jar` has the file).
# Needs chromium and pdfinfo (poppler-utils); says so and ends well where there is none.
set -eu
cd "$(dirname "$0")/../.."
for needed in chromium pdfinfo pdftoppm; do
    if ! command -v "$needed" >/dev/null; then
        echo "report.sh: $needed is not installed: nothing rendered"
        exit 0
    fi
done
out=${1:-$(mktemp -d)}
mkdir -p "$out"
cargo build --quiet
program=${CARGO_TARGET_DIR:-target}/debug/steadyohm
profile=$(mktemp -d)
trap 'rm -rf "$profile"' EXIT
chrome() {
    chromium --headless --no-sandbox --disable-gpu --disable-quic --no-first-run \
        --disable-background-networking --disable-component-update --disable-sync \
        --user-data-dir="$profile" "$@" 2>/dev/null
}
failed=0
sheet() { # NAME: renders $out/NAME.html on both papers
    for paper in A4 Letter; do
        sed "s|</head>|<style>@page { size: $paper }</style></head>|" "$out/$1.html" >"$out/$1-$paper.html"
        chrome --no-pdf-header-footer --print-to-pdf="$out/$1-$paper.pdf" "file://$out/$1-$paper.html" >/dev/null
        rm "$out/$1-$paper.html"
        pages=$(pdfinfo "$out/$1-$paper.pdf" | sed -n 's/^Pages: *//p')
        if [ "$pages" != 1 ]; then
            echo "$1 on $paper: $pages pages"
            failed=1
        fi
    done
    pdftoppm -r 110 -png -singlefile "$out/$1-A4.pdf" "$out/$1-A4"
    pdftoppm -r 110 -png -singlefile "$out/$1-Letter.pdf" "$out/$1-Letter"
}
for recording in ${RECORDINGS:-recordings/lead-*.csv recordings/*-good.csv}; do
    name=$(basename "$recording" .csv)
    "$program" report "$recording" --tag L-0042 --batch 'Stage leads, spring' --by 'Bench 2' \
        --out "$out/$name.html" 2>/dev/null
    sheet "$name"
done
"$program" report recordings/lead-tip-opens-when-flexed.csv recordings/lead-good.csv \
    --tag L-0042 --job 'New plug at one end' --out "$out/before-after.html" 2>/dev/null
sheet before-after
for recording in recordings/pot/*.csv; do
    name=pot-$(basename "$recording" .csv)
    "$program" report "$recording" --tag P-0007 --by 'Bench 2' --out "$out/$name.html" 2>/dev/null
    sheet "$name"
done
"$program" report recordings/pot/dirty-zone.csv recordings/pot/good.csv \
    --tag P-0007 --job 'Volume cleaned' --out "$out/pot-before-after.html" 2>/dev/null
sheet pot-before-after
# A job of three leads, one of them before and after; and one that is too large for its drawings.
"$program" report recordings/balanced-good.csv recordings/speaker-good.csv recordings/insert-good-by-loop.csv \
    --instrument 'Stage rack' --job 'Check before the season' --out "$out/job.html" 2>/dev/null
sheet job
"$program" report recordings/lead-good*.csv recordings/lead-tip-open*.csv recordings/balanced-tip-open*.csv \
    --job 'Leads of the stage' --out "$out/large-job.html" 2>/dev/null
sheet large-job

# A crate of 80, one of 400, as the ledger has them.
bench=$(mktemp -d)
crate() { # NAME COUNT
    mkdir "$bench/$1"
    number=0
    while [ $number -lt "$2" ]; do
        number=$((number + 1))
        case $((number % 13)) in
            3) from=lead-tip-opens-when-flexed ;;
            7) from=lead-good-probe-slips ;;
            *) from=lead-good ;;
        esac
        tag=$(printf '%s-%03d' "$1" $number)
        id=$(printf '01%06d-0000-7000-8000-%012d' $number "$2")
        step='"proof":"seen","coverage":0.95,"reasons":[]'
        found=$(printf '{"took_s":9,"findings":[],"steps":[{"step":"tip","verdict":"pass","ohms":0.%02d,%s},{"step":"sleeve","verdict":"pass","ohms":0.%02d,%s}]}' \
            $((40 + number * 7 % 23)) "$step" $((30 + number * 5 % 17)) "$step")
        sed "1s/{/{\"run\":{\"id\":\"$id\",\"about\":{\"tag\":\"$tag\",\"batch\":\"$1\",\"lot\":\"lot $((number % 3))\"},\"found\":$found},/" \
            recordings/$from.json | sed '/"made_by"/d' >"$bench/$1/$tag.json"
        : >"$bench/$1/$tag.csv"
    done
    "$program" ledger rebuild --ledger "$bench/own.sqlite" --from "$bench/$1" >/dev/null
    "$program" report --ledger "$bench/own.sqlite" --batch "$1" --by 'Bench 2' --out "$out/$1.html" 2>/dev/null
    sheet "$1"
}
crate crate 80
crate supply 400
rm -rf "$bench"
"$program" report recordings/lead-good.csv --tag L-0042 --out "$out/label.svg" 2>/dev/null
chrome --screenshot="$out/label.png" --window-size=600,400 --force-device-scale-factor=2 \
    "file://$out/label.svg" >/dev/null
if [ -n "${VNU:-}" ]; then
    java -jar "$VNU" --errors-only --format text "$out"/*.html || failed=1
    java -jar "$VNU" --errors-only --format text --svg "$out"/label.svg || failed=1
fi
count=$(ls "$out"/*.pdf | wc -l)
echo "report.sh: $count PDFs in $out"
exit $failed
