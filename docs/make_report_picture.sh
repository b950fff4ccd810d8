#!/bin/sh
# Makes docs/report.png, the picture of a report in the README: the demo's Geminid night. Needs Chromium.
set -eu
cd "$(dirname "$0")/.."
folder=$(mktemp -d)
trap 'rm -r "$folder"' EXIT
export FRAMEFALL_CATALOGUE="$folder/catalogue.sqlite"
framefall() { cargo run --release --quiet -- --quiet "$@"; }
framefall site add "Salt Ridge" --lat 38.93N --lon 116.01W --elevation 1905
# One file of body B is damaged, and that is said by the exit code.
framefall ingest --site "Salt Ridge" demo-data/cards/geminids-body-a demo-data/cards/geminids-body-b || true
framefall report 2023-12-13 --to "$folder/night.html"
chromium --headless --no-sandbox --hide-scrollbars --window-size=1000,1270 --screenshot="$PWD/docs/report.png" \
  "file://$folder/night.html"
