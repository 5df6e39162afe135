package station

import (
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/thermal/forecast"
)

// Score compares the windows that were shown with the hatches in the book. Any goroutine
// may call it.
func (s *Station) Score() (snapshot.Score, error) {
	kept, err := s.ShownWindows("")
	if err != nil {
		return snapshot.Score{}, err
	}
	shown := make([]forecast.Shown, len(kept))
	for i, w := range kept {
		shown[i] = forecast.Shown{
			Clutch: w.Clutch, Box: w.Box, At: w.At, CheckFrom: w.Window.CheckFrom, Likely: w.Window.Likely, LateAfter: w.Window.LateAfter,
		}
	}
	x := forecast.ScoreShown(*s.Book(), shown)
	score := snapshot.Score{Hatches: x.Hatches, Ways: []snapshot.ScoreAt{}, Eggs: []snapshot.EggScore{}}
	for _, w := range x.Ways {
		score.Ways = append(score.Ways, snapshot.ScoreAt{
			Way: w.Way, N: w.N, Inside: snapshot.OptFloat(w.Inside), MeanDaysOff: snapshot.OptFloat(w.MeanDaysOff), MeanWidth: snapshot.OptFloat(w.MeanWidth),
		})
	}
	for _, e := range x.Eggs {
		score.Eggs = append(score.Eggs, snapshot.EggScore{
			Egg: e.Egg, Clutch: e.Shown.Clutch, Way: e.Way, Shown: e.Shown.At, CheckFrom: e.Shown.CheckFrom, Likely: e.Shown.Likely,
			LateAfter: e.Shown.LateAfter, Hatched: e.Hatched, DaysOff: e.DaysOff, Inside: e.Inside,
		})
	}
	return score, nil
}
