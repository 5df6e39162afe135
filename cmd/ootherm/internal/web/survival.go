package web

import (
	"fmt"
	"math"
	"strings"

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

// survival is how hatchlings fared, as it is drawn: days to the right, the share
// alive upwards.
type survival struct {
	Spread  string // a polygon: what chance leaves open
	Run     string // a stair
	Left    []tick
	Foot    []tick
	Caption string
	Label   string // all of it for those who hear the page
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

func survivalOf(who string, spans []stats.Span) *survival {
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
	x := func(day float64) string {
		return coordinate(narrowedLeft + day/end*(plotWide-narrowedLeft))
	}
	y := func(share float64) string {
		return coordinate(plotTop + (1-share)*(plotHigh-plotTop-plotFoot))
	}
	run, over, under := []string{x(0) + "," + y(1)}, []string{x(0) + "," + y(1)}, []string{x(0) + "," + y(1)}
	alive, low, high := 1.0, 1.0, 1.0
	to := func(day, a, l, h float64) {
		at := x(day) + ","
		run = append(run, at+y(alive), at+y(a))
		over = append(over, at+y(high), at+y(h))
		under = append(under, at+y(low), at+y(l))
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
	for i, j := 0, len(under)-1; i < j; i, j = i+1, j-1 {
		under[i], under[j] = under[j], under[i]
	}
	v.Run, v.Spread = strings.Join(run, " "), strings.Join(append(over, under...), " ")
	v.Left = []tick{{y(1), "100 %"}, {y(0.5), "50 %"}, {y(0), "0 %"}}
	mark := end
	var followed []string
	for _, day := range []float64{0, 14, 30, 60, 90, 180, 365} {
		if day > end {
			break
		}
		mark = day
		followed = append(followed, fmt.Sprintf("%d on day %.0f", followedOn(day, spans), day))
		if day > 0 && end-day > end*0.12 {
			v.Foot = append(v.Foot, tick{x(day), fmt.Sprintf("%.0f", day)})
		}
	}
	if mark < end-0.5 {
		followed = append(followed, fmt.Sprintf("%d on day %.0f", followedOn(end, spans), end))
	}
	v.Foot = append(v.Foot, tick{x(end), fmt.Sprintf("day %.0f", end)})
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
	v.Caption = "Followed: " + strings.Join(followed, ", ") + ". One that nobody noted after its 14th day is followed no further. Shaded: what chance leaves open."
	v.Label = fmt.Sprintf("Hatchlings of %s alive, by days since the hatch: %s. %s", who, strings.Join(v.Lines, "; "), v.Caption)
	return v
}
