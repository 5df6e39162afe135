package backtest

import (
	"math/rand/v2"
	"slices"
	"time"
)

// Paces at which a recording is watched.
const (
	RecordingPace = "recording" // its own readings
	StationPace   = "station"   // a reading at every poll of the station
)

// Kinds of zone, in the order of a table. Those of one kind together have a row.
const (
	Room        = "room"
	Shelf       = "shelf"
	Incubator   = "incubator"
	UnknownKind = "unknown"
	AllKinds    = "all" // of the row of all recordings
)

// Kinds are the kinds that a recording may be of.
func Kinds() []string { return []string{Room, Shelf, Incubator, UnknownKind} }

// options are how recordings are watched.
type options struct {
	pace     time.Duration // 0: that of the recording
	failures int
	seed     uint64
}

// together is the row of several recordings, yet without any.
func (o options) together(zone, kind string) Row {
	r := Row{
		Zone: zone, Kind: kind, Pace: RecordingPace, Cycles: make([]int, len(Swings())),
		By: map[string]Score{}, shares: map[string][]float64{},
		Later: Later{By: map[string]Score{}, shares: map[string][]float64{}},
	}
	if o.pace > 0 {
		every := o.pace.Seconds()
		r.Pace, r.Every = StationPace, &every
	}
	return r
}

const (
	// paceNoiseKelvin is the scatter laid over each reading at a pace (our choice: half the
	// 0.0625 K step of a DS18B20, data sheet).
	paceNoiseKelvin = 0.03
	// minHole is the shortest time without a reading that is a hole (our choice: what the
	// station counts as not measured).
	minHole = 10 * time.Minute
	// holeSpacings is how many usual spacings of a recording are a hole in it (our choice).
	holeSpacings = 1.5
)

// spacing is the median time between two readings.
func (r Recording) spacing() time.Duration {
	if len(r.Samples) < 2 {
		return 0
	}
	all := make([]time.Duration, len(r.Samples)-1)
	for i := range all {
		all[i] = r.Samples[i+1].At.Sub(r.Samples[i].At)
	}
	slices.Sort(all)
	return all[len(all)/2]
}

// atPace is the recording as a station that polls at a pace would have read it: on the straight
// line between two readings, with the scatter of a sensor. A hole stays a hole. Between the
// readings of a coarse recording the air of a real zone moves more.
func (r Recording) atPace(pace time.Duration, seed uint64) []Sample {
	x := r.Samples
	hole := max(minHole, time.Duration(holeSpacings*float64(r.spacing())))
	rng := rand.New(rand.NewPCG(seed, 10))
	var all []Sample
	at := x[0].At
	for i := 0; i+1 < len(x); {
		from, to := x[i], x[i+1]
		if at.After(to.At) {
			i++
			continue
		}
		if span := to.At.Sub(from.At); span <= hole || at.Equal(from.At) {
			way := at.Sub(from.At).Seconds() / span.Seconds()
			all = append(all, Sample{at, from.Celsius + way*(to.Celsius-from.Celsius) + paceNoiseKelvin*rng.NormFloat64()})
			at = at.Add(pace)
			continue
		}
		at = to.At
		i++
	}
	return all
}
