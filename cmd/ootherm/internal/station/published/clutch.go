package published

import (
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/forecast"
	"example.com/ootherm/thermal/forecastlog"
	"example.com/ootherm/thermal/track"
)

// Clutch publishes a group before it has a forecast. Felt is nil where it is not known.
func Clutch(g *track.Group, felt *track.Excursions) snapshot.Clutch {
	c := snapshot.Clutch{
		Clutch: g.Clutch, Dam: snapshot.OptText(strings.Join(g.Dams, " or ")), Profile: snapshot.OptText(g.Profile),
		Laid: snapshot.Laid{Earliest: g.Laid.Earliest, Latest: g.Laid.Latest}, Because: []string{}, Outside: []snapshot.Outside{},
	}
	if felt != nil {
		c.Outside = outside(felt)
	}
	for _, e := range g.Eggs {
		c.Eggs = append(c.Eggs, snapshot.Egg{Egg: e.ID, Slot: snapshot.OptText(e.Slot), Fate: string(e.Fate)})
	}
	return c
}

// Forecast adds the forecast of a group to its clutch.
func Forecast(c snapshot.Clutch, g *track.Group, h forecast.Hatch) snapshot.Clutch {
	if g.Waiting { // else there is no window to give reasons for
		c.Because = append(c.Because, h.Because...)
	}
	c.State = snapshot.OptText(string(h.State))
	if h.Rate == nil {
		return c
	}
	since, before := h.Heat.Since, h.Heat.Before
	felt := since.Plus(before)
	c.Developed = snapshot.OptFloat(h.Window.Developed)
	c.Observed = snapshot.OptFloat(felt.Observed())
	c.EquivalentCelsius = snapshot.OptFloat(since.Equivalent(h.Rate))
	share, _, _ := since.Bridged(h.Linear)
	early, _, _ := before.Bridged(h.Linear)
	c.DegreeDays = &snapshot.DegreeDays{
		Base:     h.Linear.Base,
		SoFar:    (share + early/2) * h.Linear.Required,
		Measured: since.Share(h.Linear) * h.Linear.Required,
		Required: h.Linear.Required,
	}
	if g.Waiting {
		c.Window, c.LineWindow = Window(h.Last), Window(h.LastLine)
		if c.Window != nil {
			c.Window.Late = h.State == forecast.LateState
			c.Why = why(h.Window.Why)
		}
	}
	return c
}

// why publishes the width of a window by its causes; nil where it has none.
func why(x thermal.Why) *snapshot.Why {
	if len(x.Parts) == 0 {
		return nil
	}
	w := &snapshot.Why{Days: x.Days}
	for _, p := range x.Parts {
		w.Parts = append(w.Parts, snapshot.WhyPart{Cause: string(p.Cause), Days: p.Days})
	}
	if x.Remedy.Cause != "" {
		w.Remedy = &snapshot.WhyPart{Cause: string(x.Remedy.Cause), Days: x.Remedy.Days}
	}
	return w
}

// Window publishes a window; nil where there is none.
func Window(w *thermal.Window) *snapshot.Window {
	if w == nil || !w.Exists() {
		return nil
	}
	return &snapshot.Window{
		CheckFrom: w.CheckFrom.UTC().Truncate(time.Second), Likely: w.Likely.UTC().Truncate(time.Second),
		LateAfter: w.LateAfter.UTC().Truncate(time.Second), Late: w.Late,
	}
}

// Shown publishes the windows of the forecast log.
func Shown(kept []forecastlog.Window) []snapshot.Shown {
	all := make([]snapshot.Shown, 0, len(kept))
	for _, w := range kept {
		all = append(all, snapshot.Shown{
			Clutch: w.Clutch, Box: w.Box, Day: w.Day, At: w.At, Eggs: w.Eggs, Developed: w.Developed,
			Window: snapshot.Window{CheckFrom: w.CheckFrom, Likely: w.Likely, LateAfter: w.LateAfter},
		})
	}
	return all
}

// outside is what eggs felt past each limit that was passed.
func outside(x *track.Excursions) []snapshot.Outside {
	all := []snapshot.Outside{}
	for _, e := range x.Past() {
		sum := e.Total()
		o := snapshot.Outside{
			Band: e.Band, Side: "cold", Limit: e.Celsius, Seconds: sum.Cumulative.Seconds(), LongestSeconds: sum.Longest.Seconds(),
			Events: sum.Events, DegreeHours: sum.DegreeHours, Most: sum.Most, Stages: []snapshot.Stage{},
		}
		if e.Warm {
			o.Side = "warm"
		}
		for k := range thermal.Stages {
			if x := e.Stage(k); x.Cumulative > 0 {
				o.Stages = append(o.Stages, snapshot.Stage{
					From: float64(k) / thermal.Stages, To: float64(k+1) / thermal.Stages,
					Seconds: x.Cumulative.Seconds(), LongestSeconds: x.Longest.Seconds(), DegreeHours: x.DegreeHours,
				})
			}
		}
		all = append(all, o)
	}
	return all
}

// Score publishes how the windows that were shown compare with the hatches.
func Score(x forecast.Score) snapshot.Score {
	score := snapshot.Score{Hatches: x.Hatches, Ways: []snapshot.ScoreAt{}, Ages: []snapshot.AgeScore{}, Eggs: []snapshot.EggScore{}}
	for _, w := range x.Ways {
		score.Ways = append(score.Ways, snapshot.ScoreAt{Way: w.Way, WindowScore: windowScore(w)})
	}
	for _, a := range x.Ages {
		score.Ages = append(score.Ages, snapshot.AgeScore{AgeDays: a.AgeDays, WindowScore: windowScore(a.Score)})
	}
	for _, e := range x.Eggs {
		var likely *time.Time
		if !e.Shown.Likely.IsZero() {
			likely = &e.Shown.Likely
		}
		score.Eggs = append(score.Eggs, snapshot.EggScore{
			Egg: e.Egg, Clutch: e.Shown.Clutch, Way: e.Way, Shown: e.Shown.At, CheckFrom: e.Shown.CheckFrom, Likely: likely,
			LateAfter: e.Shown.LateAfter, Hatched: e.Hatched, DaysOff: snapshot.OptFloat(e.DaysOff), Inside: e.Inside,
		})
	}
	return score
}

func windowScore(w forecast.WayScore) snapshot.WindowScore {
	return snapshot.WindowScore{
		N: w.N, Early: w.Early, Late: w.Late, Inside: snapshot.OptFloat(w.Inside),
		MeanDaysOff: snapshot.OptFloat(w.MeanDaysOff), MeanWidth: snapshot.OptFloat(w.MeanWidth), LogScore: snapshot.OptFloat(w.LogScore),
	}
}
