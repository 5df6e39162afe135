package rehearsal_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"example.com/ootherm/alert/rehearsal"
)

// made are zones that are made up, so that the detector is not judged by the
// recordings alone: rooms and incubators with a thermostat's cycle or without, a
// day's course, sun on some days, weather, doors, noise, a sensor's step, polls
// from ten seconds to an hour, missing readings and holes.
func made(n int, seed uint64) (all []rehearsal.Recording) {
	begin := time.Date(2026, 3, 1, 6, 0, 0, 0, time.UTC)
	for i := range n {
		r := rand.New(rand.NewPCG(seed, uint64(i)))
		pick := func(v ...float64) float64 { return v[r.IntN(len(v))] }
		poll := time.Duration(pick(10, 30, 60, 120, 300, 420, 600, 900, 3600)) * time.Second
		days := min(60, max(5, 20000*poll.Hours()/24)) * (0.5 + 0.5*r.Float64())
		period := time.Duration(8+52*r.Float64()) * time.Minute
		swing := pick(0, 0, 0.3, 0.6, 1) // peak to peak
		course, sun := pick(0, 0.3, 1, 3), pick(0, 0, 1, 3)
		weather, calm := pick(0, 0.3, 1), (0.5+2.5*r.Float64())*86400
		doors := pick(0, 0.5, 2) // a day
		noise, step := pick(0.01, 0.03, 0.1), pick(0.01, 0.0625, 0.1, 0.5)
		lost := pick(0, 0.01, 0.1)
		usual := pick(23, 28, 31)
		rec := rehearsal.Recording{Name: fmt.Sprintf("%2d: %v, cycle %.1f K %v, day %.1f, sun %.0f, weather %.1f, %.1f doors, step %.2f", i, poll, swing, period.Round(time.Minute), course, sun, weather, doors, step)}
		wander, shine, open, phase, day := 0.0, 0.0, 0.0, 0.0, -1
		var holeUntil time.Duration
		for at := time.Duration(0); at.Hours() < days*24; at += poll {
			if today := int(at.Hours() / 24); today != day {
				day, shine = today, sun*r.Float64()
			}
			dt := poll.Seconds()
			wander = wander*math.Exp(-dt/calm) + weather*math.Sqrt(1-math.Exp(-2*dt/calm))*r.NormFloat64()
			open *= math.Exp(-dt / 1200)
			if r.Float64() < doors*dt/86400 {
				open -= 0.5 + r.Float64()
			}
			phase += 2 * math.Pi * dt / (period.Seconds() * (1 + 0.05*r.NormFloat64()))
			hour := math.Mod(at.Hours()+6, 24)
			v := usual + wander + open + swing/2*math.Sin(phase) + noise*r.NormFloat64()
			v += course / 2 * math.Sin(2*math.Pi*(hour-9)/24)
			v += shine * math.Exp(-math.Pow((hour-10)/1.5, 2))
			if r.Float64() < 0.05*dt/86400 {
				holeUntil = at + time.Duration(1+11*r.Float64())*time.Hour
			}
			if at < holeUntil || r.Float64() < lost {
				continue
			}
			rec.Samples = append(rec.Samples, rehearsal.Sample{At: begin.Add(at), Celsius: math.Round(v/step) * step})
		}
		all = append(all, rec)
	}
	return all
}
