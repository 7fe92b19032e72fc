package scan

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"io"
	"iter"
	"regexp"
	"sync"

	"github.com/pdfcpu/pdfcpu/pkg/api"
	"github.com/pdfcpu/pdfcpu/pkg/filter"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

// inPictures is what to do with a PDF whose pages cannot be taken apart.
const inPictures = "in the scanner's settings choose PDF with JPEG pictures, one picture a page (not \"compact\"), or PNG or JPEG files; or turn the PDF into PNG files (pdftoppm -r 200 -gray -png)"

// noConfigFiles keeps the PDF library from writing its settings into the home
// folder. It is a switch of the whole library.
var noConfigFiles = sync.OnceFunc(api.DisableConfigDir)

// pdfPictures takes the scanned picture out of each page of a PDF.
func pdfPictures(data []byte, limits Limits) iter.Seq[picture] {
	return func(yield func(picture) bool) {
		ctx, err := openPDF(data, limits)
		if err != nil {
			why := "the PDF is damaged"
			if errors.Is(err, pdfcpu.ErrWrongPassword) {
				why = "the PDF is protected by a password: save it without one"
			}
			yield(picture{refusal: &Refusal{Reason: BadFile, Detail: fmt.Sprintf("%s: %v", why, err), Err: err}})
			return
		}
		if ctx.PageCount < 1 {
			yield(picture{refusal: refuse(BadFile, "a PDF without a page")})
			return
		}
		if ctx.PageCount > limits.Pages {
			yield(picture{refusal: refuse(BadFile, "a PDF of %d pages, at most %d are read: split it", ctx.PageCount, limits.Pages)})
			return
		}
		for page := 1; page <= ctx.PageCount; page++ {
			img, refusal := pagePicture(ctx, page, limits)
			if !yield(picture{page: page, img: img, refusal: refusal}) {
				return
			}
		}
	}
}

// openPDF reads the structure of a PDF.
func openPDF(data []byte, limits Limits) (ctx *model.Context, err error) {
	defer recovered(&err)
	noConfigFiles()
	conf := model.NewDefaultConfiguration()
	conf.Cmd = model.EXTRACTIMAGES
	conf.ValidationMode = model.ValidationRelaxed
	conf.Offline = true
	conf.Limits.MaxStreamBytes = limits.Bytes
	conf.Limits.MaxDecodeBytes = decodedBytes(limits)
	conf.Limits.MaxImagePixels = limits.Pixels
	conf.Limits.MaxImageBytes = 4 * limits.Pixels
	conf.Limits.MaxObjectCount = 1 << 20
	conf.Limits.MaxXRefEntries = 1 << 20
	return api.ReadValidateAndOptimize(bytes.NewReader(data), conf)
}

// decodedBytes is what one picture may take, unpacked: colour at the limit.
func decodedBytes(limits Limits) int64 { return 3*limits.Pixels + 1<<20 }

// recovered turns a panic of the PDF library, which damaged files can cause,
// into an error.
func recovered(err *error) {
	if p := recover(); p != nil {
		*err = fmt.Errorf("the PDF library gave up: %v", p)
	}
}

// pagePicture is the largest picture on a page.
func pagePicture(ctx *model.Context, page int, limits Limits) (image.Image, *Refusal) {
	dict, others, err := largestPicture(ctx, page)
	if err != nil {
		return nil, &Refusal{Reason: NoPicture, Detail: fmt.Sprintf("%v; %s", err, inPictures), Err: err}
	}
	if dict == nil {
		return nil, refuse(NoPicture, "the page holds no picture: this is not a scan; %s", inPictures)
	}
	img, refusal := decodeStream(ctx, dict, limits)
	if refusal != nil && others > 0 {
		refusal.Detail += fmt.Sprintf(" (the page is made of %d pictures)", others+1)
	}
	return img, refusal
}

// paints finds the pictures and forms that a page's content draws.
var paints = regexp.MustCompile(`/([^\s/\[\]()<>{}%]+)\s+Do\b`)

// largestPicture chooses among the pictures that the page draws. Many
// programs give all pages one list of pictures, so what the content draws
// decides, where it tells.
func largestPicture(ctx *model.Context, page int) (dict *types.StreamDict, others int, err error) {
	defer recovered(&err)
	drawn := map[string]bool{}
	if content, err := pdfcpu.ExtractPageContent(ctx, page); err == nil && content != nil {
		text, err := io.ReadAll(io.LimitReader(content, 1<<20))
		if err == nil {
			for _, m := range paints.FindAllSubmatch(text, -1) {
				drawn[string(m[1])] = true
			}
		}
	}
	best := int64(0)
	choose := func(onlyDrawn bool) {
		best, dict, others = 0, nil, -1
		for _, number := range pdfcpu.ImageObjNrs(ctx, page) {
			object := ctx.Optimize.ImageObjects[number]
			if object == nil || object.ImageDict == nil || onlyDrawn && !drawn[object.ResourceNames[page-1]] {
				continue
			}
			others++
			w, h := dimensions(ctx, object.ImageDict)
			if size := int64(w) * int64(h); size > best {
				best, dict = size, object.ImageDict
			}
		}
	}
	if choose(true); dict == nil {
		choose(false) // drawn through a form, perhaps
	}
	return dict, others, nil
}

func dimensions(ctx *model.Context, dict *types.StreamDict) (w, h int) {
	number := func(key string) int {
		obj, found := dict.Find(key)
		if !found {
			return 0
		}
		n, err := ctx.DereferenceInteger(obj)
		if err != nil || n == nil {
			return 0
		}
		return n.Value()
	}
	return min(max(number("Width"), 0), 1<<20), min(max(number("Height"), 0), 1<<20)
}

// decodeStream decodes one picture.
func decodeStream(ctx *model.Context, dict *types.StreamDict, limits Limits) (img image.Image, refusal *Refusal) {
	var err error
	defer func() {
		dict.Content = nil // the library would keep every page unpacked
		if err != nil && refusal == nil {
			refusal = &Refusal{Reason: NoPicture, Detail: fmt.Sprintf("%v; %s", err, inPictures), Err: err}
		}
	}()
	defer recovered(&err)
	w, h := dimensions(ctx, dict)
	if refusal := limits.checkPixels(w, h); refusal != nil {
		return nil, refusal
	}
	last := ""
	if n := len(dict.FilterPipeline); n > 0 {
		last = dict.FilterPipeline[n-1].Name
	}
	switch last {
	case filter.JPX, filter.JBIG2:
		return nil, refuse(NoPicture, "the picture is packed as %s, which is not read here; %s", last, inPictures)
	case filter.DCT:
		if err = dict.DecodeWithLimit(decodedBytes(limits)); err != nil {
			return nil, nil
		}
		if bytes.HasPrefix(dict.Content, []byte{0xff, 0xd8}) {
			return decodePicture(dict.Content, limits)
		}
	case "", filter.Flate, filter.LZW, filter.RunLength, filter.CCITTFax:
		if last == "" {
			dict.Content = dict.Raw
		} else if err = dict.DecodeWithLimit(decodedBytes(limits)); err != nil {
			return nil, nil
		}
		if img := plainPicture(ctx, dict, w, h, last == filter.CCITTFax); img != nil {
			return img, nil
		}
		dict.Content = nil
	}
	// Palettes, odd depths, CMYK: the library's own rendering.
	var rendered *model.Image
	if rendered, err = pdfcpu.ExtractImage(ctx, dict, false, "", 0, false); err != nil {
		return nil, nil
	}
	if rendered == nil || rendered.FileType != "png" && rendered.FileType != "jpg" {
		return nil, refuse(NoPicture, "the picture's colours cannot be read; %s", inPictures)
	}
	var data []byte
	if data, err = io.ReadAll(rendered.Reader); err != nil {
		return nil, nil
	}
	return decodePicture(data, limits)
}

// plainPicture unpacks what scanners write most: grey or colour of 8 bits,
// black and white of 1. It is nil for all else.
func plainPicture(ctx *model.Context, dict *types.StreamDict, w, h int, fax bool) image.Image {
	depth, inverted := 0, false
	if bits := dict.IntEntry("BitsPerComponent"); bits != nil {
		depth = *bits
	}
	if fax {
		depth = 1
	}
	colours, err := pdfcpu.ColorSpaceComponents(ctx.XRefTable, dict)
	if space, serr := pdfcpu.ColorSpaceString(ctx, dict); serr != nil || space == model.IndexedCS || space == model.SeparationCS || space == model.DeviceNCS {
		return nil
	}
	mask := dict.BooleanEntry("ImageMask")
	if mask != nil && *mask {
		colours, depth, err = 1, 1, nil
	} else if fax && colours == 0 {
		colours = 1
	}
	if err != nil {
		return nil
	}
	if decode := dict.ArrayEntry("Decode"); len(decode) > 0 {
		if len(decode) != 2 || colours != 1 {
			return nil
		}
		first, ok := decode[0].(types.Integer)
		if !ok {
			return nil
		}
		inverted = first.Value() == 1
	}
	switch {
	case colours == 1 && depth == 8 && !inverted && len(dict.Content) >= w*h:
		return &image.Gray{Pix: dict.Content, Stride: w, Rect: image.Rect(0, 0, w, h)}
	case colours == 3 && depth == 8 && len(dict.Content) >= 3*w*h:
		img := image.NewGray(image.Rect(0, 0, w, h))
		for i := range img.Pix {
			p := dict.Content[3*i : 3*i+3 : 3*i+3]
			img.Pix[i] = uint8((19595*uint32(p[0]) + 38470*uint32(p[1]) + 7471*uint32(p[2]) + 1<<15) >> 16)
		}
		return img
	case colours == 1 && depth == 1 && len(dict.Content) >= (w+7)/8*h:
		img := image.NewGray(image.Rect(0, 0, w, h))
		flip := byte(0)
		if inverted {
			flip = 0xff
		}
		for y := range h {
			line := dict.Content[y*((w+7)/8):]
			for x := range w {
				if (line[x/8]^flip)&(0x80>>(x%8)) != 0 {
					img.Pix[y*w+x] = 255
				}
			}
		}
		return img
	}
	return nil
}
