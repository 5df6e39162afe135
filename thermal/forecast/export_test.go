package forecast

import (
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/track"
)

// Inferred is how many inferences a forecast holds, and how many of them another one holds
// too, not computed again.
func Inferred(f, before *Forecast) (all, kept int) {
	for key, s := range f.inferred {
		if before.inferred[key] == s {
			kept++
		}
	}
	return len(f.inferred), kept
}

// Entries names what the book of a house says of the clutch of a group.
func Entries(h House, g *track.Group) string {
	return New().knowledge(h).signs(g, thermal.Window{}, Latch{}).Entries
}

// Biases is how many biases of probes an inference knows.
func Biases(h House) int {
	return len(New().knowledge(h).infer(false, cache{}, cache{}).sources)
}
