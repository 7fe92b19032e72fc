package scan

import (
	"image"
	"image/color"
)

// toGray returns the luma of img, with transparent parts as white paper. The
// result may share memory with img.
func toGray(img image.Image) *image.Gray {
	b := img.Bounds()
	switch src := img.(type) {
	case *image.Gray:
		return src
	case *image.YCbCr:
		// Luma as it is: the Y plane needs no arithmetic.
		return &image.Gray{Pix: src.Y[src.YOffset(b.Min.X, b.Min.Y):], Stride: src.YStride, Rect: image.Rect(0, 0, b.Dx(), b.Dy())}
	}
	dst := image.NewGray(image.Rect(0, 0, b.Dx(), b.Dy()))
	switch src := img.(type) {
	case *image.Paletted:
		var luma [256]uint8
		for i, c := range src.Palette {
			luma[i] = onWhite(c)
		}
		for y := range b.Dy() {
			in := src.Pix[src.PixOffset(b.Min.X, b.Min.Y+y):]
			out := dst.Pix[y*dst.Stride:][:b.Dx()]
			for x := range out {
				out[x] = luma[in[x]]
			}
		}
	case *image.RGBA:
		for y := range b.Dy() {
			in := src.Pix[src.PixOffset(b.Min.X, b.Min.Y+y):]
			out := dst.Pix[y*dst.Stride:][:b.Dx()]
			for x := range out {
				p := in[4*x : 4*x+4 : 4*x+4]
				white := 255 - uint32(p[3]) // premultiplied: the paper shows through
				out[x] = uint8((19595*uint32(p[0])+38470*uint32(p[1])+7471*uint32(p[2])+1<<15)>>16 + white)
			}
		}
	default:
		for y := range b.Dy() {
			for x := range b.Dx() {
				dst.Pix[y*dst.Stride+x] = onWhite(img.At(b.Min.X+x, b.Min.Y+y))
			}
		}
	}
	return dst
}

// onWhite is the luma of c laid over white (ITU-R BT.601 weights, as in
// package image/color).
func onWhite(c color.Color) uint8 {
	r, g, b, a := c.RGBA()
	return uint8((19595*r+38470*g+7471*b+1<<15)>>24 + (0xffff-a)>>8)
}

// shrink averages blocks of k × k pixels; k = 1 returns g itself. Rows and
// columns left over at the far edges are dropped.
func shrink(g *image.Gray, k int) *image.Gray {
	if k <= 1 {
		return g
	}
	w, h := g.Rect.Dx()/k, g.Rect.Dy()/k
	dst := image.NewGray(image.Rect(0, 0, w, h))
	sums := make([]uint32, w)
	area := uint32(k * k)
	for y := range h {
		clear(sums)
		for dy := range k {
			in := g.Pix[(y*k+dy)*g.Stride:][:w*k]
			if k == 2 {
				for x := range sums {
					sums[x] += uint32(in[2*x]) + uint32(in[2*x+1])
				}
				continue
			}
			for x := range sums {
				s := uint32(0)
				for _, v := range in[x*k : x*k+k] {
					s += uint32(v)
				}
				sums[x] += s
			}
		}
		out := dst.Pix[y*dst.Stride:][:w]
		for x, s := range sums {
			out[x] = uint8((s + area/2) / area)
		}
	}
	return dst
}

// sample is the brightness at (x, y), bilinear between pixel centres at whole
// coordinates; outside the image it is that of the nearest edge.
func sample(g *image.Gray, x, y float64) float64 {
	w, h := g.Rect.Dx(), g.Rect.Dy()
	// NaN compares false with all: it ends up at 0.
	if !(x > 0) {
		x = 0
	} else if x > float64(w-1) {
		x = float64(w - 1)
	}
	if !(y > 0) {
		y = 0
	} else if y > float64(h-1) {
		y = float64(h - 1)
	}
	x0, y0 := int(x), int(y)
	fx, fy := x-float64(x0), y-float64(y0)
	i := y0*g.Stride + x0
	right, down := 1, g.Stride
	if x0 == w-1 {
		right = 0
	}
	if y0 == h-1 {
		down = 0
	}
	top := float64(g.Pix[i])*(1-fx) + float64(g.Pix[i+right])*fx
	bottom := float64(g.Pix[i+down])*(1-fx) + float64(g.Pix[i+down+right])*fx
	return top*(1-fy) + bottom*fy
}
