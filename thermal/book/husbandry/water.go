package husbandry

import (
	"fmt"
	"math"
	"time"

	"example.com/ootherm/thermal/book"
)

// WaterFor is how much water makes a medium of a wanted ratio, water to dry medium
// by mass: grams, which are also millilitres.
func WaterFor(dryG, ratio float64) float64 { return dryG * ratio }

// Scale is how wrong a weighing may be: by the mass of one egg, from EggG to
// EggMostG, for each egg that came or went (both 0: not known), and by the scale's
// own error.
type Scale struct{ EggG, EggMostG, ErrorG float64 }

// Water is the water of a box by its weighings, in grams.
type Water struct {
	Add       float64 // so that it weighs as much as when set up; 0 when it needs none
	Low, High float64 // the same, with the uncertainty of egg masses and the scale
	Ratio     float64 // water to dry medium now; NaN when the set-up does not give the masses
	PerDay    float64 // lost a day; NaN until two weighings are a day apart
	// Balance is Low without its bounds: below 0 where more was added than is gone for certain.
	Balance float64
	Next    time.Time
	Warning string // empty when there is none
}

// Shares of the water that a box began with, all our choice: a weekly top-up makes good about
// a tenth; twice that is more than a week should take, four times is a dry box.
const (
	DryShare     = 0.2
	VeryDryShare = 0.4
)

const (
	// An egg that is placed so soon after the set-up counts as weighed with it. Our
	// assumption.
	settlingTime = 24 * time.Hour
	// Boxes are weighed weekly (common practice), sooner when one dries so fast that
	// by then it will have lost a tenth of its water (our choice), at most daily.
	weighInterval  = 7 * 24 * time.Hour
	maxDriedShare  = 0.1
	weightsPerLoss = 2 // a loss is the difference of two weighings
)

// WaterOf computes how much water to add to a box by its last weighing. The wanted
// mass is that of the set-up, with the eggs placed within a day of it, less eggs
// taken out and plus eggs put in since. Water that eggs take up from the medium
// stays in the box and is not a loss. It is an error when the box was not weighed
// at its set-up or since, and when eggs came or went whose mass is not known. The
// error has an ErrorMessage for the breeder.
func WaterOf(b book.Book, box string, s Scale) (Water, error) {
	x, ok := b.Box(box)
	switch {
	case !ok:
		return Water{}, unknownWater{box, "is not in the book: check the name"}
	case x.TotalG == nil:
		return Water{}, unknownWater{box, "its mass in all when set up is not known: note it when it is set up again"}
	case len(x.Weighings) == 0:
		return Water{}, unknownWater{box, "was not weighed since it was set up: weigh it"}
	}
	last := x.Weighings[len(x.Weighings)-1]
	eggs := eggsSinceSetUp(x, last.At)
	if eggs != 0 && s.EggMostG == 0 {
		return Water{}, unknownWater{box, "eggs were put in or taken out since it was set up, and how heavy one is is not known: give their kind egg_g in the configuration"}
	}
	before, since := wateredG(x)
	lost := *x.TotalG - last.TotalG - since
	low, high := lost+eggs*s.EggG, lost+eggs*s.EggMostG
	if low > high {
		low, high = high, low
	}
	low, high = low-weightsPerLoss*s.ErrorG, high+weightsPerLoss*s.ErrorG
	w := Water{Add: (low + high) / 2, Low: low, High: high, Balance: low, Ratio: math.NaN(), PerDay: math.NaN()}
	if days := last.At.Sub(x.SetUp).Hours() / 24; days >= 1 {
		w.PerDay = (*x.TotalG - last.TotalG + eggs*(s.EggG+s.EggMostG)/2 + before) / days
	}
	atSetUp := math.Inf(1)
	if x.WaterG != nil {
		atSetUp = *x.WaterG
		if x.DryG != nil {
			w.Ratio = (atSetUp - w.Add) / *x.DryG
		}
	}
	switch {
	case w.High < 0:
		w.Warning = fmt.Sprintf("it is %.1f g heavier than when set up: add nothing, and see whether water stands in it", -w.Add)
	case w.Add > atSetUp:
		w.Warning = fmt.Sprintf("it lost more than the %.1f g of water it began with: weigh it again before adding any", atSetUp)
		w.Ratio = math.NaN()
	}
	for _, g := range [...]*float64{&w.Add, &w.Low, &w.High} {
		*g = min(max(0, *g), atSetUp)
	}
	w.Next = last.At.Add(weighInterval)
	if days := maxDriedShare * atSetUp / w.PerDay; w.PerDay > 0 && days < 7 {
		w.Next = last.At.Add(time.Duration(max(1, days) * float64(24*time.Hour)))
	}
	return w, nil
}

// NextWeighing is when to weigh a box next: as [WaterOf] computes, or else a week
// after its last weighing or its set-up (common practice). It is false for a box
// whose mass is not known, and for one that is not in the book.
func NextWeighing(b book.Book, box string, s Scale) (time.Time, bool) {
	if w, err := WaterOf(b, box, s); err == nil {
		return w.Next, true
	}
	x, ok := b.Box(box)
	if n := len(x.Weighings); n > 0 {
		return x.Weighings[n-1].At.Add(weighInterval), true
	}
	if !ok || x.TotalG == nil {
		return time.Time{}, false
	}
	return x.SetUp.Add(weighInterval), true
}

// unknownWater says why the water of a box is not known.
type unknownWater struct{ box, why string }

func (u unknownWater) Error() string        { return "box " + u.box + ": " + u.why }
func (u unknownWater) ErrorMessage() string { return u.why }

// wateredG is the water added to a box before its last weighing and since, grams.
func wateredG(x book.Box) (before, since float64) {
	for _, w := range x.Waterings {
		if w.Weighings < len(x.Weighings) {
			before += w.WaterG
		} else {
			since += w.WaterG
		}
	}
	return before, since
}

// eggsSinceSetUp is how many more eggs are in a box at a time than when it was
// weighed at its set-up.
func eggsSinceSetUp(x book.Box, at time.Time) float64 {
	n := 0
	for _, t := range x.Transfers {
		if t.At.After(x.SetUp.Add(settlingTime)) && !t.At.After(at) {
			n += t.Eggs
		}
	}
	return float64(n)
}
