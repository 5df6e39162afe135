package mixedmodel

// Deviations are the standard deviations of the levels and the slopes of each rank around
// the rank above it. One family may have its own ones for its slope and for the slopes of
// its species.
type Deviations struct {
	Levels, Slopes [Ranks]float64
	Apart          string         // the family
	ApartSlopes    [Ranks]float64 // its own from the rank of families on; 0: as all others
}

// variance is that of a node of a path around the one above it.
func (d Deviations) variance(path Path, rank int) Pair {
	level, slope := d.Levels[rank], d.Slopes[rank]
	if own := d.ApartSlopes[rank]; own != 0 && path[Family] == d.Apart {
		slope = own
	}
	return Pair{level * level, slope * slope}
}

// Course is the level and the slope that all species share, along their usual
// temperature: both at one temperature, and how they change with each kelvin above it.
type Course struct {
	Level, LevelByKelvin, Slope, SlopeByKelvin float64
}

// At is the course so many kelvin above its temperature.
func (c Course) At(kelvin float64) Pair {
	return Pair{c.Level + c.LevelByKelvin*kelvin, c.Slope + c.SlopeByKelvin*kelvin}
}

// Plus is the sum of two pairs.
func (p Pair) Plus(o Pair) Pair { return Pair{p.Level + o.Level, p.Slope + o.Slope} }
