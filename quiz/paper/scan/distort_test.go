package scan

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"testing"
)

func grayAt(v float64) color.Gray { return color.Gray{Y: uint8(min(max(v, 0), 1)*255 + 0.5)} }

// distortion is what happens to a sheet between the printer and the reader.
type distortion struct {
	name        string
	dpi         float64 // of the picture
	turn        float64 // degrees clockwise
	perspective float64 // how much shorter the far edge is, as a share
	curl        float64 // mm that the middle of the sheet's height bulges sideways
	blur        float64 // standard deviation, mm on paper
	noise       float64 // standard deviation, of 255
	shadow      float64 // share of light lost on the dark side
	hardShadow  float64 // the same, with an edge across the sheet
	background  uint8   // brightness around the sheet
	margin      float64 // background shown around the sheet, mm
	contrast    float64 // share of the range kept; 0 is all
	levels      bool    // black and white only, as fax scanners
	quality     int     // JPEG; 0 is none
}

// apply makes the picture of a printed sheet.
func (d distortion) apply(t testing.TB, sheet *canvas, rng *rand.Rand) image.Image {
	t.Helper()
	perMM := d.dpi / 25.4
	// Average down first so that the warp below samples without aliasing.
	src, srcPerMM := sheet.img, sheet.perMM
	if k := int(sheet.perMM / perMM); k > 1 {
		src, srcPerMM = shrink(src, k), srcPerMM/float64(k)
	}
	s, c := math.Sincos(d.turn * math.Pi / 180)
	w := (a4Width*math.Abs(c) + a4Height*math.Abs(s)) + 2*d.margin
	h := (a4Width*math.Abs(s) + a4Height*math.Abs(c)) + 2*d.margin
	out := image.NewGray(image.Rect(0, 0, int(w*perMM), int(h*perMM)))
	// The light falls off along a random direction.
	ls, lc := math.Sincos(rng.Float64() * 2 * math.Pi)
	edgeAt := 0.2 * (rng.Float64() - 0.5)
	keep := d.contrast
	if keep == 0 {
		keep = 1
	}
	background := d.background
	if background == 0 {
		background = 200
	}
	for j := range out.Rect.Dy() {
		for i := range out.Rect.Dx() {
			// From the picture back to the sheet: unturn, then perspective.
			x, y := (float64(i)+0.5)/perMM-w/2, (float64(j)+0.5)/perMM-h/2
			x, y = x*c+y*s, -x*s+y*c
			u, v := x/a4Width, y/a4Height // −½ … ½ on the flat sheet
			z := 1 + d.perspective*(v+0.6*u)
			u, v = u*z, v*z
			x, y = (u+0.5)*a4Width, (v+0.5)*a4Height
			x += d.curl * math.Cos(math.Pi*v)
			y += 0.5 * d.curl * math.Cos(math.Pi*u)
			value := float64(background)
			if x > 0 && x < a4Width && y > 0 && y < a4Height {
				value = sample(src, x*srcPerMM-0.5, y*srcPerMM-0.5)
			}
			across := (u*lc + v*ls) // about −0.7 … 0.7
			light := 1 - d.shadow*min(max(across+0.5, 0), 1)
			if d.hardShadow > 0 && across > edgeAt {
				light *= 1 - d.hardShadow*min((across-edgeAt)/0.01, 1)
			}
			value = (255 - keep*(255-value)) * light
			out.Pix[j*out.Stride+i] = uint8(min(max(value+0.5, 0), 255))
		}
	}
	if d.blur > 0 {
		blur(out, d.blur*perMM)
	}
	if d.noise > 0 {
		for i, v := range out.Pix {
			out.Pix[i] = uint8(min(max(float64(v)+rng.NormFloat64()*d.noise+0.5, 0), 255))
		}
	}
	if d.levels {
		for i, v := range out.Pix {
			out.Pix[i] = 0
			if v >= 140 {
				out.Pix[i] = 255
			}
		}
	}
	if d.quality > 0 {
		var buf bytes.Buffer
		if err := jpeg.Encode(&buf, out, &jpeg.Options{Quality: d.quality}); err != nil {
			t.Fatal(err)
		}
		img, err := jpeg.Decode(&buf)
		if err != nil {
			t.Fatal(err)
		}
		return img
	}
	return out
}

// blur is a Gaussian of standard deviation sigma, in pixels.
func blur(img *image.Gray, sigma float64) {
	n := int(3*sigma) + 1
	kernel := make([]float64, 2*n+1)
	sum := 0.0
	for i := range kernel {
		d := float64(i - n)
		kernel[i] = math.Exp(-d * d / (2 * sigma * sigma))
		sum += kernel[i]
	}
	w, h := img.Rect.Dx(), img.Rect.Dy()
	pass := func(length, count, step, stride int) {
		line := make([]float64, length)
		for l := range count {
			for i := range length {
				line[i] = float64(img.Pix[l*stride+i*step])
			}
			for i := range length {
				v := 0.0
				for k, f := range kernel {
					v += f * line[min(max(i+k-n, 0), length-1)]
				}
				img.Pix[l*stride+i*step] = uint8(v/sum + 0.5)
			}
		}
	}
	pass(w, h, 1, img.Stride)
	pass(h, w, img.Stride, 1)
}
