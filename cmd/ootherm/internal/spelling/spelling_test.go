package spelling

import "testing"

func TestNearest(t *testing.T) {
	known := []string{"probe", "probes", "humidity", "to"}
	for word, want := range map[string]string{
		"probe":    "probe",
		"prob":     "probe",    // a letter is missing
		"probee":   "probe",    // the first of two that are as close
		"Probes":   "probes",   // capitals do not count
		"humditiy": "humidity", // two pairs are swapped
		"ot":       "to",       // swapped letters are one mistake
		"humzzzzy": "",         // four of eight letters differ
		"xy":       "",         // both letters differ
	} {
		if got := Nearest(word, known); got != want {
			t.Errorf("%q stands for %q, want %q", word, got, want)
		}
	}
	if got := Nearest("probe", nil); got != "" {
		t.Errorf("%q of no words", got)
	}
}
