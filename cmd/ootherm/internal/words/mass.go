package words

import (
	"math"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// Grams formats a mass, "4 g" or "4.5 g", with a second decimal under 1 g.
func Grams(g float64) string {
	s := grams(g)
	if s == Unknown {
		return s
	}
	return s + " g"
}

// Range formats a mass between two ends, "4-6 g"; "4 g" where both ends look the same.
func Range(low, high float64) string {
	a, b := grams(low), grams(high)
	if a == b || a == Unknown || b == Unknown {
		return Grams(high)
	}
	return a + "-" + b + " g"
}

// grams formats a mass without its unit.
func grams(g float64) string {
	decimals := 1
	if math.Abs(g) < 1 {
		decimals = 2
	}
	s := figure(g, decimals)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

// Percent formats a share, "23 %", rounded down.
func Percent(share float64) string { return percent(share) }

// Ratio formats water to dry medium by mass, "0.8 : 1".
func Ratio(r float64) string {
	s := figure(r, 2)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == Unknown {
		return s
	}
	return s + " : 1"
}

// RatioLeft formats the ratio that is left, "0.88-0.93 : 1". Its width comes from the
// interval of the water lost. It is empty where the ratio is not known.
func RatioLeft(m snapshot.Medium) string {
	if m.Ratio == nil {
		return ""
	}
	if m.Dry == nil || m.Water == nil || m.AddLow == nil || m.AddHigh == nil || *m.AddLow == *m.AddHigh {
		return Ratio(*m.Ratio)
	}
	low, high := Ratio((*m.Water-*m.AddHigh) / *m.Dry), Ratio(max(*m.Ratio, (*m.Water-*m.AddLow) / *m.Dry))
	if low == high {
		return high
	}
	return strings.TrimSuffix(low, " : 1") + "-" + high
}

// ToAdd says how much water to add, given the interval of the water lost in grams. Where
// the scale cannot tell the loss from zero, it adds none.
func ToAdd(low, high float64) string {
	switch {
	case high == 0:
		return "nothing"
	case low == 0:
		return "nothing yet: the loss, at most " + Grams(high) + ", is too small to be sure of"
	}
	return Range(low, high) + " (the same in ml): begin with the lower figure, never add more than the higher"
}

// SetUp formats what a medium was set up with: "vermiculite, 40 g dry and 40 g of water (1 : 1),
// 112 g with the box".
func SetUp(m snapshot.Filling) string {
	var parts []string
	if t := OrEmpty(m.Medium); t != "" {
		parts = append(parts, t)
	}
	var mixed []string
	if m.Dry != nil {
		mixed = append(mixed, Grams(*m.Dry)+" dry")
	}
	if m.Water != nil {
		mixed = append(mixed, Grams(*m.Water)+" of water")
	}
	if len(mixed) > 0 {
		parts = append(parts, strings.Join(mixed, " and "))
		if m.WantedRatio != nil {
			parts[len(parts)-1] += " (" + Ratio(*m.WantedRatio) + ")"
		}
	}
	if m.Total != nil {
		parts = append(parts, Grams(*m.Total)+" with the box")
	}
	return strings.Join(parts, ", ")
}

// OnlyForetold reports whether a box lost so large a share of its water as computed, and less
// as weighed.
func OnlyForetold(m snapshot.Medium, share float64) bool {
	return m.Drying != nil && m.Drying.LostShare != nil && *m.Drying.LostShare >= share && (m.Lost == nil || *m.Lost < share)
}

// HowForetold says where a foretold loss comes from.
const HowForetold = "This is computed from earlier weighings and the humidity of the air. Only weighing shows it."

// NotForetold says why what a box lost since it was last weighed is not computed now, although
// its loss is known.
const NotForetold = "Not known: the humidity of the air was missing for more than a tenth of the time since it was last weighed, or that mass cannot be right. Weigh it."

// NotLearned says why nothing is computed of a box that was weighed.
const NotLearned = "Not yet: it takes two spans of a day or more between weighings, with the humidity of the air measured, no egg moved, and no water added but at the first of the two."

// ForetoldLoss says what a box probably lost since it was last weighed or watered, in a
// sentence or two. It is empty where that is not known.
func ForetoldLoss(d snapshot.Drying, at time.Time, r Reader) string {
	if d.Lost == nil || d.LostLow == nil || d.LostHigh == nil {
		return ""
	}
	said := "Since " + r.When(d.Since, at) + ", when it was last weighed or watered, it has probably lost " + Range(*d.LostLow, *d.LostHigh) + " of water"
	switch {
	case d.LostShare == nil || *d.LostShare <= 0:
	case *d.LostShare >= 1:
		said += ". All of what it began with is probably gone"
	default:
		said += ". In all, " + Percent(*d.LostShare) + " or more of what it began with is probably gone"
	}
	return said + "."
}

// LossNow says what a box lost in the last day, and usually loses; empty where that is not
// known.
func LossNow(d snapshot.Drying) string {
	if d.LastDay == nil {
		return ""
	}
	return "probably " + Grams(*d.LastDay) + " in the last day, usually " + Grams(d.Usual)
}
