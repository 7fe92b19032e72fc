package scan

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"io"
	"iter"
	"net/http"
)

// picture is one page's image, or why there is none.
type picture struct {
	page    int
	img     image.Image
	refusal *Refusal
}

// readAll reads a file up to the limit.
func (l Limits) readAll(file io.Reader) ([]byte, *Refusal) {
	data, err := io.ReadAll(io.LimitReader(file, l.Bytes+1))
	if err != nil {
		return nil, &Refusal{Reason: BadFile, Detail: "reading it: " + err.Error(), Err: err}
	}
	if int64(len(data)) > l.Bytes {
		return nil, refuse(BadFile, "larger than %d MB: split it, or scan in grey at 200 dpi", l.Bytes>>20)
	}
	return data, nil
}

// pictures lists the pages of a file.
func pictures(data []byte, limits Limits) iter.Seq[picture] {
	single := func(p picture) iter.Seq[picture] {
		return func(yield func(picture) bool) { yield(p) }
	}
	switch kind := http.DetectContentType(data); {
	case len(data) == 0:
		return single(picture{refusal: refuse(BadFile, "the file is empty")})
	case bytes.Contains(data[:min(len(data), 1024)], []byte("%PDF-")):
		return pdfPictures(data, limits)
	case kind == "image/png" || kind == "image/jpeg":
		img, refusal := decodePicture(data, limits)
		return single(picture{img: img, refusal: refusal})
	default:
		return single(picture{refusal: refuse(BadFile, "this is %s: save it as PNG, JPEG or PDF", kindName(data, kind))})
	}
}

// kindName says what a file is that is not read, where it is one that people
// are likely to try.
func kindName(data []byte, kind string) string {
	switch {
	case len(data) > 12 && string(data[4:8]) == "ftyp":
		return "a HEIC picture or a film"
	case bytes.HasPrefix(data, []byte("II*\x00")) || bytes.HasPrefix(data, []byte("MM\x00*")):
		return "a TIFF picture"
	case bytes.HasPrefix(data, []byte("PK\x03\x04")):
		return "a ZIP archive or an office document"
	}
	return "neither PNG, JPEG nor PDF (" + kind + ")"
}

// decodePicture decodes a PNG or JPEG after looking at its size.
func decodePicture(data []byte, limits Limits) (image.Image, *Refusal) {
	decode, config := png.Decode, png.DecodeConfig
	if bytes.HasPrefix(data, []byte{0xff, 0xd8}) {
		decode, config = jpeg.Decode, jpeg.DecodeConfig
	}
	c, err := config(bytes.NewReader(data))
	if err == nil {
		if refusal := limits.checkPixels(c.Width, c.Height); refusal != nil {
			return nil, refusal
		}
		var img image.Image
		if img, err = decode(bytes.NewReader(data)); err == nil {
			return img, nil
		}
	}
	return nil, &Refusal{Reason: BadFile, Detail: fmt.Sprintf("the picture is damaged: %v", err), Err: err}
}

func (l Limits) checkPixels(w, h int) *Refusal {
	if w < 1 || h < 1 || int64(w) > l.Pixels || int64(h) > l.Pixels || int64(w)*int64(h) > l.Pixels {
		return refuse(BadFile, "a picture of %d × %d pixels, at most %d million are read: scan at 300 dpi or less", w, h, l.Pixels>>20)
	}
	return nil
}
