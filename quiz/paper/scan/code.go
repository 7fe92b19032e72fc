package scan

import (
	"image"
	"slices"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"
	"github.com/makiuchi-d/gozxing/qrcode/decoder"

	"rightpage/quiz/paper"
)

// readCodes yields what the square code may say, likeliest reading first;
// take tells whether it will do. The code's place and size are known, so it is
// sampled module by module, which reads codes too small or too blurred to be
// found as such; only then is the library asked to find one in a straightened
// picture.
func (r *registered) readCodes(take func(string) bool) bool {
	dec := decoder.NewDecoder()
	tried := map[string]bool{}
	offer := func(s string) bool {
		if tried[s] {
			return false
		}
		tried[s] = true
		return take(s)
	}
	const module = paper.CodeSide / paper.CodeModules
	for _, shift := range [][2]float64{{0, 0}, {-0.35, 0}, {0.35, 0}, {0, -0.35}, {0, 0.35}, {-0.35, -0.35}, {0.35, 0.35}, {-0.35, 0.35}, {0.35, -0.35}} {
		values := r.codeModules(shift[0]*module, shift[1]*module)
		for _, window := range []int{paper.CodeModules, 5} {
			bits, err := gozxing.ParseBoolMapToBitMatrix(threshold(values, window))
			if err != nil {
				continue
			}
			if result, err := dec.DecodeWithoutHint(bits); err == nil && offer(result.GetText()) {
				return true
			}
		}
	}
	quiet := 4 * module
	area := paper.Rect{X: paper.CodeX - quiet, Y: paper.CodeY - quiet, W: paper.CodeSide + 2*quiet, H: paper.CodeSide + 2*quiet}
	for _, perMM := range []float64{8, 5} {
		if s, ok := findCode(r.crop(area, perMM)); ok && offer(s) {
			return true
		}
	}
	return false
}

// codeModules is the mean brightness of each module's middle.
func (r *registered) codeModules(dx, dy float64) [][]float64 {
	const module = paper.CodeSide / paper.CodeModules
	values := make([][]float64, paper.CodeModules)
	for j := range values {
		values[j] = make([]float64, paper.CodeModules)
		for i := range values[j] {
			x := paper.CodeX + dx + (float64(i)+0.5)*module
			y := paper.CodeY + dy + (float64(j)+0.5)*module
			sum := 2 * r.sample(x, y)
			for _, d := range [][2]float64{{-0.22, 0}, {0.22, 0}, {0, -0.22}, {0, 0.22}} {
				sum += r.sample(x+d[0]*module, y+d[1]*module)
			}
			values[j][i] = sum / 6
		}
	}
	return values
}

// threshold calls a module dark that is below the middle between the darkest
// and the lightest of the modules up to window away, the extremes being the
// tenth and ninetieth of a hundred.
func threshold(values [][]float64, window int) [][]bool {
	n := len(values)
	bits := make([][]bool, n)
	var near []float64
	limit := -1.0
	for j := range bits {
		bits[j] = make([]bool, n)
		for i := range bits[j] {
			if limit < 0 || window < n {
				near = near[:0]
				for y := max(0, j-window); y <= min(n-1, j+window); y++ {
					near = append(near, values[y][max(0, i-window):min(n, i+window+1)]...)
				}
				slices.Sort(near)
				limit = (near[len(near)/10] + near[len(near)*9/10]) / 2
			}
			bits[j][i] = values[j][i] < limit
		}
	}
	return bits
}

// findCode looks for a code anywhere in a picture.
func findCode(img *image.Gray) (string, bool) {
	source := gozxing.NewLuminanceSourceFromImage(img)
	hints := map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_TRY_HARDER: true}
	for _, binarizer := range []gozxing.Binarizer{gozxing.NewHybridBinarizer(source), gozxing.NewGlobalHistgramBinarizer(source)} {
		bitmap, err := gozxing.NewBinaryBitmap(binarizer)
		if err != nil {
			continue
		}
		if result, err := qrcode.NewQRCodeReader().Decode(bitmap, hints); err == nil {
			return result.GetText(), true
		}
	}
	return "", false
}
