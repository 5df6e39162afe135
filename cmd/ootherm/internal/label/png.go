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

// headerLen is the length of a PNG's signature and header chunk (PNG specification, 5.2 and
// 11.2.2). The chunk with the size of a dot follows them.
const headerLen = 8 + 12 + 13

// encode writes a picture with the physical size of its dots (PNG specification, 11.3.4.3,
// pHYs), so that it prints in its real size.
func encode(w io.Writer, img image.Image, dotsPerMetre float64) error {
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		return err
	}
	per := uint32(math.Round(dotsPerMetre))
	size := []byte("pHYs")
	size = binary.BigEndian.AppendUint32(size, per)
	size = binary.BigEndian.AppendUint32(size, per)
	size = append(size, 1) // unit: metre
	chunk := binary.BigEndian.AppendUint32(nil, uint32(len(size)-4))
	chunk = append(chunk, size...)
	chunk = binary.BigEndian.AppendUint32(chunk, crc32.ChecksumIEEE(size))
	for _, part := range [][]byte{b.Bytes()[:headerLen], chunk, b.Bytes()[headerLen:]} {
		if _, err := w.Write(part); err != nil {
			return err
		}
	}
	return nil
}
