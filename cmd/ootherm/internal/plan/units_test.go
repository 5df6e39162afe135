package plan_test

import (
	"fmt"
	"math"
	"regexp"
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/profile"
)

// The page shows a limit with the digits of the configuration file, at each tenth of a
// degree of both scales.
func TestLimitIsShownAsWritten(t *testing.T) {
	for unit, c := range map[string]struct {
		units    words.Units
		from, to int // tenths
	}{"F": {words.Fahrenheit, 320, 1400}, "C": {words.Celsius, 0, 600}} {
		r := words.Reader{Units: c.units}
		for tenth := c.from; tenth <= c.to; tenth++ {
			written := fmt.Sprintf("%d.%d", tenth/10, tenth%10)
			for _, text := range []string{written + unit, strings.TrimSuffix(written, ".0") + unit} {
				v, err := config.Celsius(text)
				if err != nil {
					t.Fatal(err)
				}
				if got := r.Degrees(v); got != written {
					t.Fatalf("%s is shown as %s", text, got)
				}
				if got, want := r.Band(&v, nil), "above "+written+" °"+unit; got != want {
					t.Fatalf("%s is shown as %s", text, got)
				}
			}
		}
	}
}

// The page shows a band that common practice gives in whole degrees Fahrenheit with the
// same digits.
func TestBandOfCommonPracticeIsShownAsKnown(t *testing.T) {
	species, err := profile.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	known := regexp.MustCompile(`(\d+)-(\d+) F$`)
	n := 0
	for _, p := range species {
		m := known.FindStringSubmatch(p.Sources["wanted"])
		if m == nil {
			continue
		}
		n++
		if got, want := (words.Reader{Units: words.Fahrenheit}).Band(&p.Wanted.Low, &p.Wanted.High), m[1]+".0-"+m[2]+".0 °F"; got != want {
			t.Errorf("%s: wanted is shown as %s, want %s", p.Name, got, want)
		}
	}
	if n < 3 {
		t.Errorf("%d species have such a band, want three", n)
	}
}

// The bands of a kind have the ends that its profile has; of an unknown kind none is known.
func TestBands(t *testing.T) {
	p := plan.Plan{Profiles: []profile.Profile{{Name: "a", Climate: profile.Climate{Wanted: profile.Band{Low: 22, High: 24}, Safe: profile.Band{Low: 18, High: math.Inf(1)}}}}}
	if w, s := p.Bands("a"); *w.Low != 22 || *w.High != 24 || *s.Low != 18 || s.High != nil {
		t.Errorf("%+v, %+v", w, s)
	}
	if w, s := p.Bands("b"); w != (snapshot.Band{}) || s != (snapshot.Band{}) {
		t.Errorf("%+v, %+v", w, s)
	}
}
