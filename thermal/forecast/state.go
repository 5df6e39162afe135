package forecast

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"time"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/track"
)

// State is how far a group is on its way to the hatch, and so what a person has to do.
// It is empty where no egg of the group waits, or where it has no window.
type State string

// The states, in the order in which a group passes them. They are stored and published.
const (
	Incubating State = "incubating"  // nothing to do
	CheckDaily State = "check daily" // the first egg may hatch: look each day
	Hatching   State = "hatching"    // an egg of the clutch has pipped or hatched
	LateState  State = "late"        // past late-after
)

// Latch remembers that a group has reached [CheckDaily]. The zero Latch remembers nothing.
// A caller stores it, and hands it back after a restart.
type Latch struct {
	// Since is when the group reached [CheckDaily].
	Since time.Time `json:"since,omitzero"`
	// Entries names what the book said about the clutch then. An egg of it that hatched or was
	// lost, and a corrected entry about it, change it.
	Entries string `json:"entries,omitempty"`
}

// Signs are what decides on the state of a group.
type Signs struct {
	Now     time.Time
	Window  thermal.Window
	Waiting bool // an egg of the group waits or has pipped
	// Pipped is the last pip of an egg of the clutch that has not hatched yet; zero: none.
	Pipped time.Time
	// Mate reports that an egg of the clutch has hatched.
	Mate bool
	// Entries names what the book says about the clutch.
	Entries string
	// Latch is the latch from before.
	Latch Latch
}

// pipToHatch is how long a pipped egg takes: nine in ten hatch within it. Common practice;
// the figure is our choice.
const pipToHatch = 3 * 24 * time.Hour

// StateOf is the state of a group, and the latch for the next time. CheckDaily stays once
// it is reached, while the book says the same of the clutch and the group is not late.
func StateOf(x Signs) (State, Latch) {
	w := x.Window
	pipped := !x.Pipped.IsZero()
	switch {
	case !x.Waiting:
		return "", Latch{}
	case pipped && x.Now.Before(x.Pipped.Add(pipToHatch)):
		return Hatching, Latch{}
	case w.Exists() && (w.Late || x.Now.After(w.LateAfter)):
		return LateState, Latch{}
	case pipped || x.Mate:
		return Hatching, Latch{}
	case !w.Exists():
		return "", Latch{}
	case !x.Latch.Since.IsZero() && x.Latch.Entries == x.Entries:
		return CheckDaily, x.Latch
	case !x.Now.Before(w.CheckFrom):
		return CheckDaily, Latch{Since: x.Now, Entries: x.Entries}
	}
	return Incubating, Latch{}
}

// signs are those of a group with a window.
func (k *knowledge) signs(g *track.Group, w thermal.Window, before Latch) Signs {
	x := Signs{Now: k.Now, Window: w, Waiting: g.Waiting, Latch: before}
	entries := sha256.New()
	fmt.Fprintln(entries, k.Corrections.Own[g.Clutch], g.Laid.Earliest.UnixNano(), g.Laid.Latest.UnixNano(), g.Profile, g.Resumed.UnixNano())
	for _, mate := range k.Groups {
		if mate.Clutch != g.Clutch {
			continue
		}
		for _, e := range mate.Eggs {
			fmt.Fprintln(entries, e.ID, e.Fate, e.FateAt.UnixNano())
			switch {
			case e.Fate == book.Hatched:
				x.Mate = true
			case e.Fate == book.Pipped && e.FateAt.After(x.Pipped):
				x.Pipped = e.FateAt
			}
		}
	}
	x.Entries = hex.EncodeToString(entries.Sum(nil)[:8])
	return x
}
