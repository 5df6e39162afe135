package forecasttest

import (
	"fmt"
	"iter"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/forecast"
	"example.com/ootherm/thermal/profile"
	"example.com/ootherm/thermal/track"
)

// Simulated is a house whose every number is drawn. The model is told none of them, the
// scatters included.
type Simulated struct {
	Layings []Laying
	Hatch   map[string]float64   // day, by egg; none of those that are dead
	Boxes   map[string][]float64 // what the probe of each box measures, hour by hour, C
	Profile profile.Profile
}

const simulatedDays = 420

// Simulate draws a house: its level, slope and bend from what is published, its own offset,
// dams with clutches of two eggs each, 30 to 45 days apart; a total scatter around
// 4.1 % (30 % either way) split at random among eggs, clutches and dams; a quarter of the
// eggs dead, more alike within a clutch; rooms around 23.3 C (0.8 K between houses) with a
// season of 1 K, days that wander by 0.6 K and a daily course of 1 to 3 K; a probe in each
// box that is wrong by 0.3 K. A person looks once a day, and notes half of the dead eggs.
func Simulate(t testing.TB, seed uint64, dams, clutches int) Simulated {
	t.Helper()
	rnd := rand.New(rand.NewPCG(seed, 17))
	all, err := profile.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	s := Simulated{Hatch: map[string]float64{}, Boxes: map[string][]float64{}}
	for _, p := range all {
		if p.Name == Species {
			s.Profile = p
		}
	}
	b, err := s.Profile.Belief()
	if err != nil {
		t.Fatal(err)
	}
	h := house{curve: drawCurve(rnd, b)}
	total := 0.041 * math.Exp(0.3*rnd.NormFloat64())
	parts := [3]float64{}
	var sum float64
	for i, shape := range []int{4, 3, 2} { // a Dirichlet distribution, by sums of exponentials
		for range shape {
			parts[i] -= math.Log(rnd.Float64())
		}
		sum += parts[i]
	}
	h.egg, h.clutch, h.dam = total*math.Sqrt(parts[0]/sum), total*math.Sqrt(parts[1]/sum), total*math.Sqrt(parts[2]/sum)
	h.room = drawRoom(rnd)
	for d := range dams {
		ofDam := h.dam * rnd.NormFloat64()
		day := rnd.IntN(50)
		for c := range clutches {
			s.lay(rnd, h, Alone(fmt.Sprintf("C%d%d", d, c), fmt.Sprintf("Dam %d", d), day), day, ofDam)
			day += 30 + rnd.IntN(16)
		}
	}
	return s
}

// house is what a simulated house is made of.
type house struct {
	curve            thermal.Curve
	egg, clutch, dam float64   // scatters, of the logarithm of what an egg needs
	room             []float64 // hour by hour, C
}

// drawCurve draws how fast the eggs of a house develop.
func drawCurve(rnd *rand.Rand, b thermal.Belief) thermal.Curve {
	mean, covariance := b.Numbers()
	var level, slope, bend float64
	for slope < 0.02 || bend < 0.0005 {
		z := [3]float64{rnd.NormFloat64(), rnd.NormFloat64(), rnd.NormFloat64()}
		l00 := math.Sqrt(covariance[0][0])
		l10 := covariance[1][0] / l00
		l11 := math.Sqrt(covariance[1][1] - l10*l10)
		l20 := covariance[2][0] / l00
		l21 := (covariance[2][1] - l20*l10) / l11
		l22 := math.Sqrt(covariance[2][2] - l20*l20 - l21*l21)
		level = mean[0] + l00*z[0]
		slope = mean[1] + l10*z[0] + l11*z[1]
		bend = mean[2] + l20*z[0] + l21*z[1] + l22*z[2]
	}
	level += thermal.HouseSD * rnd.NormFloat64()
	return thermal.Curve{Usual: b.Usual, LogDays: level, Slope: slope, Bend: bend, Upper: b.Upper}
}

// drawRoom draws the temperature of a room, hour by hour.
func drawRoom(rnd *rand.Rand) []float64 {
	middle, phase, swing := 23.3+0.8*rnd.NormFloat64(), 2*math.Pi*rnd.Float64(), 0.5+rnd.Float64()
	room := make([]float64, 24*simulatedDays)
	wander := 0.0
	for i := range room {
		if i%24 == 0 {
			wander = 0.8*wander + 0.36*rnd.NormFloat64()
		}
		room[i] = middle + wander + math.Sin(phase+2*math.Pi*float64(i)/24/365) + swing*math.Sin(2*math.Pi*float64(i%24)/24)
	}
	return room
}

// lay adds a clutch that is laid on a day, and what becomes of its eggs.
func (s *Simulated) lay(rnd *rand.Rand, h house, l Laying, day int, ofDam float64) {
	bias := 0.3 * rnd.NormFloat64()
	measured := make([]float64, len(h.room))
	for i, v := range h.room {
		measured[i] = v - bias
	}
	s.Boxes[l.Boxed()] = measured
	ofClutch := h.clutch * rnd.NormFloat64()
	dead := 1 - math.Pow(rnd.Float64(), 1/2.96) // about a quarter, unlike from clutch to clutch
	for e := range l.Eggs {
		need := math.Exp(ofDam + ofClutch + h.egg*rnd.NormFloat64())
		if rnd.Float64() < dead {
			if rnd.IntN(2) == 0 {
				l = l.With(e+1, Fate{float64(day + 20 + rnd.IntN(60)), "lost"})
			}
			continue
		}
		begun := float64(day) - rnd.Float64() // laid at any time since the last look
		if at, ok := h.hatches(begun, need); ok {
			s.Hatch[fmt.Sprintf("%s-%d", l.ID, e+1)] = at
			l = l.With(e+1, Fate{math.Ceil(at), "hatched"})
		}
	}
	s.Layings = append(s.Layings, l)
}

// hatches is the day on which an egg has developed for what it needs; false: not in the time
// that is simulated.
func (h house) hatches(begun, need float64) (day float64, ok bool) {
	got := 0.0
	for i := max(0, int(begun*24)); i < len(h.room); i++ {
		if got += h.curve.PerDay(h.room[i]) / 24; got >= need {
			return float64(i) / 24, true
		}
	}
	return 0, false
}

// hours are the hourly temperatures of boxes.
type hours map[string][]float64

func (hours) Samples(track.Source, float64, time.Time, time.Time) iter.Seq2[thermal.Sample, error] {
	return func(func(thermal.Sample, error) bool) {}
}

func (h hours) Exposure(src track.Source, warmer float64, from, to time.Time) (x thermal.Exposure, first, last thermal.Sample, ok bool, err error) {
	of := h[src.Probe[len("probe "):]]
	for i := int(Day(from) * 24); i < len(of); i++ {
		at := Began.Add(time.Duration(i) * time.Hour)
		if !at.Before(to) {
			break
		}
		if at.Before(from) {
			continue
		}
		last = thermal.Sample{At: at.Add(time.Hour), Celsius: of[i] + warmer}
		if last.At.After(to) {
			last.At = to
		}
		x = x.Steady(of[i]+warmer, last.At.Sub(at))
		if first.At.IsZero() {
			first = thermal.Sample{At: at, Celsius: of[i] + warmer}
		}
	}
	return x, first, last, true, nil
}

// At is the house on a day, as the station sees it.
func (s Simulated) At(t testing.TB, day float64) forecast.House {
	t.Helper()
	var known []Laying
	for _, l := range s.Layings {
		if float64(l.Day) <= day {
			known = append(known, l)
		}
	}
	h := HouseAt(t, s.Profile.Usual, day, known...)
	h.Climate = func(src track.Source) thermal.ZoneHistory {
		var days thermal.ZoneHistory
		of := s.Boxes[src.Probe[len("probe "):]]
		for d := range int(day) {
			low, high, sum := math.Inf(1), math.Inf(-1), 0.0
			for _, v := range of[24*d : 24*d+24] {
				low, high, sum = math.Min(low, v), math.Max(high, v), sum+v/24
			}
			days = append(days, thermal.Day{Start: Began.AddDate(0, 0, d), Mean: sum, Range: high - low})
		}
		return days
	}
	tracks := map[string]*track.Track{}
	for _, g := range h.Groups {
		x, err := track.Rebuild(hours(s.Boxes), g.Stays, h.Now, 2*time.Hour)
		if err != nil {
			t.Fatal(err)
		}
		tracks[g.Track] = x
	}
	h.Track = func(key string) *track.Track { return tracks[key] }
	return h
}
