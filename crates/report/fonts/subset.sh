#!/bin/sh
# Makes the committed font subsets from Debian's fonts-noto-core (Noto Sans, and Noto Sans Math for the signs that
# Noto Sans lacks). Needs fonttools and brotli. Usage: subset.sh [folder with the Noto fonts] [folder for the result]
set -eu
SRC=${1:-/usr/share/fonts/truetype/noto}
OUT=${2:-.}
TMP=$(mktemp -d)
TEXT="U+0020-007E,U+00A0-017F,U+018F,U+0192,U+0218-021B,U+02C6,U+02C7,U+02D8-02DD,U+0370-03FF,U+0400-045F,U+0490,U+0491,U+1E9E,U+2002-2009,U+2010-2015,U+2018-201E,U+2020-2022,U+2026,U+202F,U+2030,U+2032,U+2033,U+2039,U+203A,U+2044,U+2070-208E,U+20AC,U+2103,U+2116,U+2122,U+FFFD"
SIGNS="U+2190-2193,U+2206,U+2211,U+2212,U+2215,U+221A,U+221E,U+2248,U+2260,U+2264,U+2265"
pyftsubset "$SRC/NotoSansMath-Regular.ttf" --unicodes="$SIGNS" --layout-features= --no-hinting \
    --drop-tables+=MATH,GSUB,GPOS,GDEF --notdef-glyph --output-file="$TMP/signs.ttf"
for W in Regular Bold; do
    pyftsubset "$SRC/NotoSans-$W.ttf" --unicodes="$TEXT" --layout-features=kern,mark,ccmp --no-hinting \
        --name-IDs=0,1,2,3,4,5,6,13,14 --output-file="$TMP/$W.ttf"
    pyftmerge --output-file="$OUT/NotoSans-$W.ttf" "$TMP/$W.ttf" "$TMP/signs.ttf"
    # The merge takes the larger line metrics of the two; put those of Noto Sans back.
    python3 - "$SRC/NotoSans-$W.ttf" "$OUT/NotoSans-$W.ttf" <<'PY'
import sys
from fontTools.ttLib import TTFont
old, new = TTFont(sys.argv[1]), TTFont(sys.argv[2], recalcTimestamp=False)
for table, fields in {
    "hhea": ("ascent", "descent", "lineGap"),
    "OS/2": ("sTypoAscender", "sTypoDescender", "sTypoLineGap", "usWinAscent", "usWinDescent", "sxHeight"),
}.items():
    for field in fields:
        setattr(new[table], field, getattr(old[table], field))
new["head"].created = new["head"].modified = old["head"].modified
new.save(sys.argv[2])
PY
    pyftsubset "$OUT/NotoSans-$W.ttf" --unicodes='*' --glyphs='*' --layout-features='*' --flavor=woff2 \
        --name-IDs=0,1,2,3,4,5,6,13,14 --output-file="$OUT/NotoSans-$W.woff2"
done
rm -r "$TMP"
