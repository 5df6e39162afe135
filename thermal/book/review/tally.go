package review

import (
	"time"

	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/stats"
)

// survivalJudgedAfter is the age at which a hatchling counts as alive or not. Our
// choice.
const survivalJudgedAfter = 14 * 24 * time.Hour

// Tally counts the eggs of one dam, of clutches that several dams share, or of the
// room.
type Tally struct {
	Name     string   // of the dam; several joined by " or "; empty when not known, and for the room
	Dams     []string // none when not known
	Clutches []string // in the order laid
	EggCounts
	// Fertile is of the eggs whose verdict is fertile, infertile or slug, or that
	// pipped or hatched.
	Fertile stats.Ratio
	// Hatched is of the eggs of clutches in which none waits: in others the losses
	// show before the hatches.
	Hatched stats.Ratio
	// Alive is of the hatchlings that hatched 14 days ago or longer. One whose death
	// is not noted is alive.
	Alive       stats.Ratio
	Durations   MeanDuration        // of clutches in which none waits, without implausible ones
	Followed    []stats.Span        // of hatchlings, from their hatch
	Comparisons []Comparison        // with the other dams together; none where there is no other
	Duration    *DurationComparison // with the other dams of her profiles; nil where there is none

	byProfile map[string]MeanDuration
}

// EggCounts are the eggs of a tally, and those of them of which it is too early to tell.
type EggCounts struct {
	Laid    int // all
	Waiting int // of these, waiting or pipped
	Open    int // of these, in clutches in which one waits: they do not count in Hatched
	Unknown int // of these, without a verdict, nor pipped or hatched: they do not count in Fertile
	Young   int // hatchlings that hatched less than 14 days ago: they do not count in Alive
}

func (t *Tally) add(c *book.Clutch, now time.Time, duration *Duration) {
	t.Clutches = append(t.Clutches, c.ID)
	hatched, waiting := 0, 0
	for i := range c.Eggs {
		e := &c.Eggs[i]
		t.Laid++
		t.addVerdict(e)
		switch e.Fate {
		case book.Waiting, book.Pipped:
			waiting++
		case book.Hatched:
			hatched++
			t.addHatchling(e, now)
		}
	}
	t.Waiting += waiting
	if waiting > 0 {
		t.Open += len(c.Eggs)
		return
	}
	t.Hatched.Count += hatched
	t.Hatched.Of += len(c.Eggs)
	if duration == nil {
		return
	}
	t.Durations = t.Durations.with(*duration)
	if t.byProfile == nil {
		t.byProfile = map[string]MeanDuration{}
	}
	t.byProfile[c.Profile] = t.byProfile[c.Profile].with(*duration)
}

func (t *Tally) addVerdict(e *book.Egg) {
	switch {
	case e.Fate == book.Pipped || e.Fate == book.Hatched || e.Verdict == book.Fertile:
		t.Fertile = t.Fertile.With(true)
	case e.Verdict == book.Infertile || e.Verdict == book.Slug:
		t.Fertile = t.Fertile.With(false)
	default:
		t.Unknown++
	}
}

func (t *Tally) addHatchling(e *book.Egg, now time.Time) {
	span := followed(e, now)
	t.Followed = append(t.Followed, span)
	if now.Before(e.FateAt.Add(survivalJudgedAfter)) {
		t.Young++
		return
	}
	t.Alive = t.Alive.With(!span.Ended || span.Days > survivalJudgedAfter.Hours()/24)
}

// followed is how long a hatchling was watched: to its death, or else to the day
// it was last noted, and for 14 days at least. A death within 14 days is taken to
// be noted, as in [Tally.Alive]. Beyond that nothing is known: it may have left
// the house.
func followed(e *book.Egg, now time.Time) stats.Span {
	days := func(at time.Time) float64 { return max(0, at.Sub(e.FateAt).Hours()/24) }
	seen := e.FateAt.Add(survivalJudgedAfter)
	if now.Before(seen) {
		seen = now
	}
	for _, h := range e.Hatchling {
		if h.What == book.Died {
			return stats.Span{Days: days(h.At), Ended: true}
		}
		if h.At.After(seen) {
			seen = h.At
		}
	}
	return stats.Span{Days: days(seen)}
}
