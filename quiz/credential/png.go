package credential

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
)

// pngKeyword names the chunk that carries the credential (Open Badges 3.0,
// Document Formats, Baked Badge, PNG).
const pngKeyword = "openbadgecredential"

var pngSignature = []byte("\x89PNG\r\n\x1a\n")

// pngChunk is a part of a PNG stream (W3C PNG, 5.3): its type and where it
// stands, from its length field to behind its CRC.
type pngChunk struct {
	kind       string
	data       []byte
	start, end int
}

// pngChunks reads the chunks of a PNG and checks their CRCs and that the
// stream begins with IHDR and ends with IEND.
func pngChunks(data []byte) ([]pngChunk, error) {
	if !bytes.HasPrefix(data, pngSignature) {
		return nil, errors.New("not a PNG image")
	}
	var chunks []pngChunk
	for at := len(pngSignature); at < len(data); {
		if len(data)-at < 12 {
			return nil, errors.New("the PNG image is cut short")
		}
		length := int64(binary.BigEndian.Uint32(data[at:]))
		if length > int64(len(data)-at-12) {
			return nil, errors.New("the PNG image is cut short")
		}
		end := at + 12 + int(length)
		c := pngChunk{kind: string(data[at+4 : at+8]), data: data[at+8 : end-4], start: at, end: end}
		if binary.BigEndian.Uint32(data[end-4:]) != crc32.ChecksumIEEE(data[at+4:end-4]) {
			return nil, fmt.Errorf("the PNG image is damaged: checksum of its %q chunk at byte %d", c.kind, at)
		}
		chunks = append(chunks, c)
		at = end
	}
	if len(chunks) < 2 || chunks[0].kind != "IHDR" || chunks[len(chunks)-1].kind != "IEND" {
		return nil, errors.New("the PNG image does not run from IHDR to IEND")
	}
	return chunks, nil
}

// credentialText is the text of an iTXt chunk (W3C PNG, 11.3.3.4) with the
// credential's keyword.
func (c pngChunk) credentialText() (text []byte, ok bool, err error) {
	if c.kind != "iTXt" {
		return nil, false, nil
	}
	rest, found := bytes.CutPrefix(c.data, []byte(pngKeyword+"\x00"))
	if !found {
		return nil, false, nil
	}
	if len(rest) < 2 || rest[0] != 0 || rest[1] != 0 {
		return nil, true, errors.New("the credential in the PNG image is compressed, which Open Badges does not allow")
	}
	language, rest, found := bytes.Cut(rest[2:], []byte{0})
	if !found {
		return nil, true, errors.New("the credential's chunk in the PNG image is incomplete")
	}
	translated, text, found := bytes.Cut(rest, []byte{0})
	if !found {
		return nil, true, errors.New("the credential's chunk in the PNG image is incomplete")
	}
	_, _ = language, translated // any value is allowed
	return text, true, nil
}

// BakePNG puts a credential, signed JSON or a token, into a PNG image: an
// uncompressed iTXt chunk behind the header. An image that has one already is
// refused.
func BakePNG(image, credential []byte) ([]byte, error) {
	chunks, err := pngChunks(image)
	if err != nil {
		return nil, fmt.Errorf("credential: baking: %w", err)
	}
	for _, c := range chunks {
		if _, has, _ := c.credentialText(); has {
			return nil, errors.New("credential: baking: the image carries a credential already")
		}
	}
	if bytes.IndexByte(credential, 0) >= 0 {
		return nil, errors.New("credential: baking: a credential is text")
	}
	// keyword, NUL, not compressed, method 0, no language, no translated keyword, text
	body := append([]byte("iTXt"+pngKeyword+"\x00\x00\x00\x00\x00"), credential...)
	chunk := binary.BigEndian.AppendUint32(nil, uint32(len(body)-4))
	chunk = append(chunk, body...)
	chunk = binary.BigEndian.AppendUint32(chunk, crc32.ChecksumIEEE(body))
	at := chunks[0].end
	return bytes.Join([][]byte{image[:at], chunk, image[at:]}, nil), nil
}

// UnbakePNG takes the credential out of a PNG image and gives the image as it
// was before.
func UnbakePNG(data []byte) (image, credential []byte, err error) {
	chunks, err := pngChunks(data)
	if err != nil {
		return nil, nil, err
	}
	found := -1
	for i, c := range chunks {
		text, has, err := c.credentialText()
		if err != nil {
			return nil, nil, err
		}
		if !has {
			continue
		}
		if found >= 0 {
			return nil, nil, errors.New("the PNG image carries more than one credential")
		}
		found, credential = i, text
	}
	if found < 0 {
		return nil, nil, errors.New("the PNG image carries no credential")
	}
	image = bytes.Join([][]byte{data[:chunks[found].start], data[chunks[found].end:]}, nil)
	return image, credential, nil
}
