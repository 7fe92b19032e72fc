#!/bin/sh
# Makes the font files in this folder again from Debian's packages
# fonts-dejavu-core, fonts-ebgaramond-extra and python3-fonttools.
set -eu
cd "$(dirname "$0")"
U="U+0020-007E,U+00A0-024F,U+0259,U+0292,U+02B9-02DD,U+0370-03FF,U+0400-04FF"
U="$U,U+1E00-1EFF,U+2000-206F,U+2070-209F,U+20A0-20BF,U+2100-214F,U+2150-218F"
U="$U,U+2190-21FF,U+2200-22FF,U+2300-230F,U+2500-25FF,U+2600-2612,U+26A0,U+26A1"
U="$U,U+2713-2718,U+2726-2727,U+2756,U+FB01,U+FB02,U+FFFD"
SOURCE_DATE_EPOCH=1469000000
export SOURCE_DATE_EPOCH
subset() {
	/usr/bin/python3 -m fontTools.subset "$1" --unicodes="$U" --output-file="$2" \
		--layout-features='' --no-hinting --name-IDs='*' --notdef-outline \
		--drop-tables+=GSUB,GPOS,GDEF,kern,FFTM,DSIG,BASE,MATH
}
D=/usr/share/fonts/truetype/dejavu
G=/usr/share/fonts/truetype/ebgaramond
subset $D/DejaVuSansCondensed.ttf DejaVuSansCondensed.ttf
subset $D/DejaVuSansCondensed-Bold.ttf DejaVuSansCondensed-Bold.ttf
subset $D/DejaVuSansCondensed-Oblique.ttf DejaVuSansCondensed-Oblique.ttf
subset $D/DejaVuSansMono.ttf DejaVuSansMono.ttf
subset $D/DejaVuSansMono-Bold.ttf DejaVuSansMono-Bold.ttf
subset $G/EBGaramond12-Regular.ttf EBGaramond-Regular.ttf
subset $G/EBGaramond12-Italic.ttf EBGaramond-Italic.ttf
subset $G/EBGaramondSC12-Regular.ttf EBGaramond-SmallCaps.ttf
