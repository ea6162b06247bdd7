#!/bin/sh
# Usage: analyze_speed.sh PROGRAM [SAMPLES [FOLDER]]
# Wall time of `analyze` as a ratio to `wc -l` and to a pandas read_csv of the same file, and its peak memory.
# Needs wc and, for the last line, python3-pandas (SKIPPED without).
set -eu
program=$1
samples=${2:-100000000}
folder=${3:-${TMPDIR:-/tmp}}
file=$folder/analyze_speed_$samples.csv
test -s "$file" || "$program" make "$file" "$samples"
seconds() { # of a command, best of 3
  best=
  for _ in 1 2 3; do
    from=$(date +%s.%N)
    "$@" >/dev/null
    to=$(date +%s.%N)
    best=$(echo "$from $to $best" | awk '{ d = $2 - $1; if ($3 != "" && $3 < d) d = $3; printf "%.3f", d }')
  done
  echo "$best"
}
wc_s=$(seconds wc -l "$file")
analyze_s=$(seconds "$program" file "$file")
"$program" file "$file"
echo "analyze $analyze_s s, wc -l $wc_s s: ratio $(echo "$analyze_s $wc_s" | awk '{ printf "%.1f", $1 / $2 }')"
if /usr/bin/python3 -c 'import pandas' 2>/dev/null; then
  from=$(date +%s.%N)
  /usr/bin/python3 -c 'import pandas, sys; pandas.read_csv(sys.argv[1])' "$file"
  to=$(date +%s.%N)
  echo "$from $to $analyze_s" | awk '{ d = $2 - $1; printf "pandas read_csv %.2f s: ratio %.2f\n", d, $3 / d }'
else
  echo "pandas read_csv SKIPPED (python3-pandas)"
fi
