package words

import (
	"fmt"
	"math"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// WidthCause names a cause of a window's width.
func WidthCause(cause string) string {
	switch cause {
	case "eggs":
		return "egg to egg"
	case "probe":
		return "the probe"
	case "box":
		return "no probe in the box"
	case "laid":
		return "the lay date"
	case "climate":
		return "the warmth to come"
	case "known":
		return "what is known of such eggs here"
	case "gaps":
		return "time not measured"
	}
	return cause
}

// Remedy says what a person can do that narrows a window most, and by how much: "a probe in
// the box: 4 days less".
func Remedy(p snapshot.WhyPart) string {
	what := ""
	switch p.Cause {
	case "probe", "box":
		what = "a probe in the box"
	case "laid":
		what = "a look at the lay box each day"
	case "climate":
		what = "a set point for the zone"
	case "known":
		what = "each own hatch that you note"
	case "gaps":
		what = "no more gaps in the readings"
	default:
		return ""
	}
	return fmt.Sprintf("%s: %s less", what, Count(int(math.Round(p.Days)), "day", "days"))
}
