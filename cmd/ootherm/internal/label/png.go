package label

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/png"
	"io"
	"math"
)

// A PNG begins with its signature and the header chunk (PNG specification, 5.2
// and 11.2.2): what goes after them may tell how large a dot is.
const headEnd = 8 + 12 + 13

// encode writes a picture with the size of its dots (PNG specification, 11.3.4.3,
// pHYs), so that it prints as large as it is meant to be.
func encode(w io.Writer, img image.Image, dotsPerMetre float64) error {
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		return err
	}
	per := uint32(math.Round(dotsPerMetre))
	size := []byte("pHYs")
	size = binary.BigEndian.AppendUint32(size, per)
	size = binary.BigEndian.AppendUint32(size, per)
	size = append(size, 1) // in metres
	chunk := binary.BigEndian.AppendUint32(nil, uint32(len(size)-4))
	chunk = append(chunk, size...)
	chunk = binary.BigEndian.AppendUint32(chunk, crc32.ChecksumIEEE(size))
	for _, part := range [][]byte{b.Bytes()[:headEnd], chunk, b.Bytes()[headEnd:]} {
		if _, err := w.Write(part); err != nil {
			return err
		}
	}
	return nil
}
