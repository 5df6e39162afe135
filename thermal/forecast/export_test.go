package forecast

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
