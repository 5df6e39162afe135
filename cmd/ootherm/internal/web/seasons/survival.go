package seasons

import (
	"fmt"
	"math"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/web/chart"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book/stats"
)

// stepView is the share of hatchlings alive from a day on; its interval is null
// once none is.
type stepView struct {
	Days     float64  `json:"days"` // since the hatch
	Followed int      `json:"followed"`
	Died     int      `json:"died"`
	Alive    float64  `json:"alive"`
	Low      *float64 `json:"low_95"`
	High     *float64 `json:"high_95"`
}

func stepsOf(spans []stats.Span) []stepView {
	v := []stepView{}
	for _, x := range stats.Survival(spans) {
		s := stepView{Days: x.Days, Followed: x.AtRisk, Died: x.Ended, Alive: x.Alive}
		if !math.IsNaN(x.Low) && !math.IsNaN(x.High) {
			s.Low, s.High = &x.Low, &x.High
		}
		v = append(v, s)
	}
	return v
}

// survival is how hatchlings fared, as it is drawn: days to the right, the share alive
// upwards.
type survival struct {
	Figure  *chart.Figure // nil: too few for one
	Caption string        // where there is no figure
	Lines   []string
}

// fewest is how many hatchlings a curve needs; it ends where fewer, or less than
// a third of them, are still followed (our choice): one death among the last two
// is no half.
const fewest = 3

// followedOn is how many hatchlings are still followed on a day.
func followedOn(day float64, spans []stats.Span) (n int) {
	for _, x := range spans {
		if x.Days >= day {
			n++
		}
	}
	return n
}

// lastDay is the day on which the curve ends.
func lastDay(spans []stats.Span) (end float64) {
	need := max(fewest, (len(spans)+2)/3)
	for _, x := range spans {
		if x.Days > end && followedOn(x.Days, spans) >= need {
			end = x.Days
		}
	}
	return end
}

func SurvivalOf(who string, spans []stats.Span) *survival {
	if len(spans) == 0 {
		return nil
	}
	end := lastDay(spans)
	v := &survival{}
	if len(spans) < fewest || end < 1 {
		v.Caption = words.Count(len(spans), "hatchling", "hatchlings") + " so far: too few, or too young, for a curve."
		for _, x := range stats.Survival(spans) {
			v.Lines = append(v.Lines, fmt.Sprintf("%d died on day %.0f", x.Ended, x.Days))
		}
		return v
	}
	alive, low, high := 1.0, 1.0, 1.0
	run, spread := []chart.Point{{X: 0, Y: 1}}, []chart.Range{{X: 0, Low: 1, High: 1}}
	to := func(day, a, l, h float64) {
		run = append(run, chart.Point{X: day, Y: alive}, chart.Point{X: day, Y: a})
		spread = append(spread, chart.Range{X: day, Low: low, High: high}, chart.Range{X: day, Low: l, High: h})
		alive, low, high = a, l, h
	}
	for _, s := range stats.Survival(spans) {
		if s.Days > end {
			break
		}
		l, h := s.Low, s.High
		if math.IsNaN(l) || math.IsNaN(h) {
			l, h = 0, high
		}
		to(s.Days, s.Alive, l, h)
		v.Lines = append(v.Lines, fmt.Sprintf("from day %.0f on %.0f\u00a0%% are alive (%.0f-%.0f\u00a0%%); %d were followed until then, %d died that day",
			s.Days, 100*s.Alive, 100*l, 100*h, s.AtRisk, s.Ended))
	}
	to(end, alive, low, high)
	p := chart.Plot{X: chart.Scale{From: 0, To: end}, Now: math.NaN(), Panels: []chart.Panel{{High: 1, Height: 110,
		Items:  []chart.Item{chart.Spread{Style: chart.Between, Ranges: spread}, chart.Line{Style: chart.Temperature, Points: run}},
		Labels: []chart.Label{{At: 1, Text: "100 %"}, {At: 0, Text: "0 %"}, {At: 0.5, Text: "50 %"}}}}}
	mark := end
	var followed []string
	for _, day := range []float64{0, 14, 30, 60, 90, 180, 365} {
		if day > end {
			break
		}
		mark = day
		followed = append(followed, fmt.Sprintf("%d on day %.0f", followedOn(day, spans), day))
		if day > 0 && end-day > end*0.12 {
			p.Ticks = append(p.Ticks, chart.Tick{At: day, Text: fmt.Sprintf("%.0f", day)})
		}
	}
	if mark < end-0.5 {
		followed = append(followed, fmt.Sprintf("%d on day %.0f", followedOn(end, spans), end))
	}
	p.Ticks = append(p.Ticks, chart.Tick{At: end, Text: fmt.Sprintf("day %.0f", end)})
	beyond := 0
	for _, x := range spans {
		if x.Ended && x.Days > end {
			beyond++
		}
	}
	switch {
	case beyond > 0:
		v.Lines = append(v.Lines, fmt.Sprintf("%d died after day %.0f, when too few were still followed to give a share", beyond, end))
	case len(v.Lines) == 0:
		v.Lines = []string{"none of them died"}
	}
	caption := "Followed: " + strings.Join(followed, ", ") + ". Hatchlings without a note after day 14 are left out from then."
	if low < 1 {
		caption += " Grey: 95 % interval."
	}
	p.Label = fmt.Sprintf("Hatchlings of %s alive, by days since the hatch: %s. %s", who, strings.Join(v.Lines, "; "), caption)
	v.Figure = &chart.Figure{Plot: p, Caption: caption}
	return v
}
