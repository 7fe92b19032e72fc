package credential

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image/png"
	"strings"
	"testing"
)

// chunk is a PNG chunk of a type with data.
func chunk(kind, data string) []byte {
	out := binary.BigEndian.AppendUint32(nil, uint32(len(data)))
	out = append(out, kind+data...)
	return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE([]byte(kind+data)))
}

// Open Badges 3.0, Document Formats, Baked Badge, PNG: one iTXt chunk of
// keyword openbadgecredential, not compressed.
func TestBakingFollowsOpenBadges(t *testing.T) {
	image := smallPNG(t)
	baked, err := BakePNG(image, []byte(`{"proof":"x"}`))
	if err != nil {
		t.Fatal(err)
	}
	want := chunk("iTXt", "openbadgecredential\x00\x00\x00\x00\x00{\"proof\":\"x\"}")
	if bytes.Count(baked, want) != 1 || len(baked) != len(image)+len(want) {
		t.Errorf("got %q", baked)
	}
	before, err := png.Decode(bytes.NewReader(image))
	if err != nil {
		t.Fatal(err)
	}
	after, err := png.Decode(bytes.NewReader(baked))
	if err != nil {
		t.Fatal(err)
	}
	for x := range 12 {
		if before.At(x, x) != after.At(x, x) {
			t.Errorf("pixel %d changed", x)
		}
	}
	back, text, err := UnbakePNG(baked)
	if err != nil || !bytes.Equal(back, image) || string(text) != `{"proof":"x"}` {
		t.Errorf("unbaked %q, %v", text, err)
	}
}

func TestImagesThatAreRefused(t *testing.T) {
	image := smallPNG(t)
	header := len(pngSignature) + 25
	with := func(chunks ...[]byte) []byte {
		return bytes.Join([][]byte{image[:header], bytes.Join(chunks, nil), image[header:]}, nil)
	}
	itxt := func(rest string) []byte { return chunk("iTXt", "openbadgecredential\x00"+rest) }
	damaged := bytes.Clone(image)
	damaged[header+9] ^= 1
	for name, tt := range map[string]struct {
		data []byte
		want string
	}{
		"not a PNG":             {[]byte("GIF89a"), "not a PNG"},
		"cut short":             {image[:len(image)-3], "cut short"},
		"length beyond the end": {append(bytes.Clone(image[:header]), 0xff, 0xff, 0xff, 0xff, 'I', 'D', 'A', 'T', 0, 0, 0, 0), "cut short"},
		"damaged":               {damaged, "checksum"},
		"no end":                {image[:len(image)-12], "IEND"},
		"none":                  {image, "no credential"},
		"other text only":       {with(chunk("iTXt", "Comment\x00\x00\x00\x00\x00x")), "no credential"},
		"compressed":            {with(itxt("\x01\x00\x00\x00x")), "compressed"},
		"incomplete":            {with(itxt("\x00\x00en")), "incomplete"},
		"no text":               {with(itxt("\x00\x00en\x00")), "incomplete"},
		"two":                   {with(itxt("\x00\x00\x00\x00a"), itxt("\x00\x00\x00\x00b")), "more than one"},
	} {
		if _, text, err := UnbakePNG(tt.data); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: got %q, %v; want an error with %q", name, text, err, tt.want)
		}
	}
	// A language and a translated keyword are allowed.
	if _, text, err := UnbakePNG(with(itxt("\x00\x00en\x00Nachweis\x00{}"))); err != nil || string(text) != "{}" {
		t.Errorf("with language: %q, %v", text, err)
	}
	if _, err := BakePNG(image, []byte("a\x00b")); err == nil {
		t.Error("baking a NUL: want an error")
	}
}
