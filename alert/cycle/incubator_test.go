package cycle_test

import (
	"math"
	"math/rand/v2"
	"time"
)

// incubator is a made-up incubator: its air loses heat to the room in proportion to the
// difference (first-order lag), and a thermostat with hysteresis switches its heater. The probe
// scatters, and rounds to a step.
type incubator struct {
	every  time.Duration // between two polls
	period time.Duration // of the thermostat, in the middle of the day
	swing  float64       // between the points where it switches, K
	duty   float64       // of the heater, in the middle of the day
	noise  float64       // of the probe, K
	step   float64       // of the probe, K
	room   float64       // K that the room swings over a day, from peak to peak
	slow   float64       // K that the set point seems to move over a day, from peak to peak
	doors  float64       // openings a day
	set    []setPoint
	// setback is how much lower the set point is at night, K.
	setback float64
	seed    uint64
}

// setPoint is a change of the set point.
type setPoint struct {
	at time.Duration
	by float64 // K
}

const (
	setCelsius  = 30.0
	roomCelsius = 22.0
)

// course is the air of an incubator as it goes on.
type course struct {
	incubator
	rng        *rand.Rand
	on, stuck  bool // the heater; it stays as it is
	t          float64
	tau, power float64 // h, K/h
	at         time.Duration
	open       time.Duration // until when the door is open
}

func (i incubator) start() *course {
	c := &course{incubator: i, rng: rand.New(rand.NewPCG(i.seed, 1)), t: setCelsius, on: true}
	cools := i.swing / (i.period.Hours() * (1 - i.duty)) // K/h
	c.tau = (setCelsius - roomCelsius) / cools
	c.power = i.swing/(i.period.Hours()*i.duty) + cools
	return c
}

// next is what the probe reads at the next poll.
func (c *course) next() float64 {
	const dt = 10 * time.Second
	for end := c.at + c.every; c.at < end; c.at += dt {
		day := 2 * math.Pi * c.at.Hours() / 24
		outside := roomCelsius + c.room/2*math.Sin(day)
		target := setCelsius + c.slow/2*math.Sin(day+1)
		for _, s := range c.set {
			if c.at >= s.at {
				target += s.by
			}
		}
		if hour := int(c.at.Hours()) % 24; hour >= 14 && hour < 23 {
			target -= c.setback
		}
		if c.rng.Float64() < c.doors*dt.Hours()/24 {
			c.open = c.at + time.Duration(30+120*c.rng.Float64())*time.Second
		}
		tau := c.tau
		if c.at < c.open {
			tau = min(tau, 0.15)
		}
		if !c.stuck {
			switch {
			case c.t < target-c.swing/2:
				c.on = true
			case c.t > target+c.swing/2:
				c.on = false
			}
		}
		rate := (outside - c.t) / tau
		if c.on {
			rate += c.power
		}
		c.t += rate * dt.Hours()
	}
	v := c.t + c.noise*c.rng.NormFloat64()
	return math.Round(v/c.step) * c.step
}

// clone is the air as it is, to go on apart from it.
func (c *course) clone(seed uint64) *course {
	x := *c
	x.rng = rand.New(rand.NewPCG(seed, 2))
	return &x
}
