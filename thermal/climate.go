package thermal

import "slices"

// Climate is the forecast of a zone's temperature: its mean and how wrong that may
// be, the course of an ordinary day around it, and the course of the season where
// that is known.
type Climate struct {
	Mean       float64   // Celsius
	SD         float64   // K: of the mean over the weeks to come
	DailyRange float64   // K: trough to peak of an ordinary day
	Days       []float64 // Celsius: the mean of each day to come, the first from now; after the last, Mean
	Past       []float64 // Celsius: the mean of each day before now, the last first; before them, as the first to come
}

// Steady is a climate without a daily course.
func Steady(mean, sd float64) Climate { return Climate{Mean: mean, SD: sd} }

// course is the dose to come under a kernel at the end of each of the coming days.
// The first day begins at the moment of the forecast.
type course struct {
	ends []dose // ends[i]: i+1 days from now
	back []dose // back[i]: the i+1 days before now
	sd   float64
	mean float64
}

// maxForecastDays is how far ahead a hatch is sought. Our choice.
const maxForecastDays = 1500

func (c Climate) course(k kernel) course {
	out := course{ends: make([]dose, 0, len(c.Days)+2), sd: c.SD, mean: c.Mean}
	var sum dose
	for _, mean := range append(slices.Clip(c.Days), c.Mean) {
		sum = sum.plus(swing(&k, mean, c.DailyRange))
		out.ends = append(out.ends, sum)
	}
	sum = dose{}
	for _, mean := range c.Past {
		sum = sum.plus(swing(&k, mean, c.DailyRange))
		out.back = append(out.back, sum)
	}
	return out
}

// before is the dose of so many days before now.
func (c course) before(days float64) dose {
	n := len(c.back)
	if n == 0 {
		return c.ends[0].times(days)
	}
	i := min(int(days), n)
	d := dose{}
	if i > 0 {
		d = c.back[i-1]
	}
	if i == n {
		return d.plus(c.ends[0].times(days - float64(n)))
	}
	return d.plus(c.back[i].plus(d.times(-1)).times(days - float64(i)))
}

// after is the dose of so many days to come. Past the last day every day is like
// that one.
func (c course) after(days float64) dose {
	if days < 0 {
		return c.before(-days).times(-1)
	}
	i := min(int(days), len(c.ends)-1)
	if i < 1 {
		return c.ends[0].times(days)
	}
	step := c.ends[i].plus(c.ends[i-1].times(-1))
	return c.ends[i-1].plus(step.times(days - float64(i)))
}
