package page

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/png"

	"golang.org/x/image/vector"
)

// iconUnits is the side of the icon in the units of icon.svg.
const iconUnits = 32

// drawIcon makes the picture of icon.svg, a side of so many dots, as PNG: some phones take no
// other for an installed page. The egg stays within the inner 80 % that every shape of icon
// shows (W3C Manifest, maskable).
func drawIcon(side int) ([]byte, error) {
	scale := float32(side) / iconUnits
	picture := image.NewRGBA(image.Rect(0, 0, side, side))
	fill := func(c color.Color, shape func(p *pen)) {
		p := &pen{vector.NewRasterizer(side, side), scale}
		shape(p)
		p.z.ClosePath()
		p.z.Draw(picture, picture.Bounds(), image.NewUniform(c), image.Point{})
	}
	draw.Draw(picture, picture.Bounds(), image.NewUniform(color.RGBA{0xf6, 0xf2, 0xe7, 0xff}), image.Point{}, draw.Src)
	fill(color.RGBA{0x1b, 0x23, 0x21, 0xff}, func(p *pen) {
		p.move(3, 20.3)
		p.line(29, 20.3)
		p.line(29, 21.7)
		p.line(3, 21.7)
	})
	fill(color.RGBA{0x6e, 0x49, 0x00, 0xff}, func(p *pen) { p.egg(0.8) })
	fill(color.RGBA{0xff, 0xfa, 0xf0, 0xff}, func(p *pen) { p.egg(-0.8) })
	fill(color.RGBA{0xe0, 0x9a, 0x1f, 0xff}, func(p *pen) { p.circle(16, 18, 4) })
	var out bytes.Buffer
	if err := png.Encode(&out, picture); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// pen draws in the units of icon.svg.
type pen struct {
	z     *vector.Rasterizer
	scale float32
}

func (p *pen) move(x, y float32) { p.z.MoveTo(p.scale*x, p.scale*y) }
func (p *pen) line(x, y float32) { p.z.LineTo(p.scale*x, p.scale*y) }
func (p *pen) curve(ax, ay, bx, by, x, y float32) {
	p.z.CubeTo(p.scale*ax, p.scale*ay, p.scale*bx, p.scale*by, p.scale*x, p.scale*y)
}

// roundness places the handles of a cubic curve so that it follows a quarter of a circle to
// 0.03 % of its radius.
const roundness = 0.5523

// egg draws the egg, wider by so much on all sides.
func (p *pen) egg(by float32) {
	r, top := 8+by, 5-by
	k := r * roundness
	p.move(16, top)
	p.curve(21+by*.6, top, 16+r, 13, 16+r, 18)
	p.curve(16+r, 18+k, 16+k, 18+r, 16, 18+r)
	p.curve(16-k, 18+r, 16-r, 18+k, 16-r, 18)
	p.curve(16-r, 13, 11-by*.6, top, 16, top)
}

func (p *pen) circle(x, y, r float32) {
	k := r * roundness
	p.move(x, y-r)
	p.curve(x+k, y-r, x+r, y-k, x+r, y)
	p.curve(x+r, y+k, x+k, y+r, x, y+r)
	p.curve(x-k, y+r, x-r, y+k, x-r, y)
	p.curve(x-r, y-k, x-k, y-r, x, y-r)
}
