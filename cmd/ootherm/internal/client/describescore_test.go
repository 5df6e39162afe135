package client

import (
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// Hatches before check-from and after late-after are told with their counts; a point without
// an egg has no share.
func TestDescribeScore(t *testing.T) {
	inside, off, wide, score := 0.7, 3.25, 21.0, 1.234
	b := snapshot.Score{Hatches: 20,
		Ways: []snapshot.ScoreAt{{Way: 0.5, WindowScore: snapshot.WindowScore{N: 20, Inside: &inside, Early: 4, Late: 2, MeanDaysOff: &off, MeanWidth: &wide, LogScore: &score}}},
		Ages: []snapshot.AgeScore{{AgeDays: 150}}}
	var out strings.Builder
	if err := DescribeScore(&out, b); err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(out.String(), "\n")
	for i, want := range map[int]string{1: "before check-from after late-after", 2: "50 % 20 70 % 4: 20 % 2: 10 % 3.2 21 1.23", 4: "150 days 0"} {
		if got := strings.Join(strings.Fields(lines[i]), " "); !strings.Contains(got, want) || i == 4 && got != want {
			t.Errorf("line %d is %q, want %q", i+1, got, want)
		}
	}
	if !strings.Contains(out.String(), "10 % come before check-from, 5 % after late-after") {
		t.Errorf("what is meant is not told:\n%s", out.String())
	}
}
