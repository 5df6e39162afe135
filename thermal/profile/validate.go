package profile

import (
	"errors"
	"fmt"
	"math"
)

// The bounds of a temperature and of a duration in a profile: wide enough for any
// reptile's egg, narrow enough to catch a mistaken unit. Our choice.
const (
	minCelsius, maxCelsius = 5.0, 45.0
	minDays, maxDays       = 5.0, 1000.0
	minEggG                = 0.05
	maxEggG                = 1000.0 // several times that of a python
	maxDailyRangeK         = 30.0
	minAboveBaseK          = 2.0 // that eggs are kept above the base of their line
)

// Validate returns everything that is wrong with the profile at once, nil for a
// good one.
func (p Profile) Validate() error {
	v := validator{profile: p.Name}
	if p.Name == "" {
		v.bad("has no name")
	}
	v.celsius("usual", p.Usual)
	v.celsius("lower", p.Lower)
	v.celsius("upper", p.Upper)
	if p.Usual != 0 && p.Upper != 0 && p.Upper < p.Usual {
		v.bad("upper %g C is below usual %g C", p.Upper, p.Usual)
	}
	if p.Usual != 0 && p.Lower > p.Usual {
		v.bad("lower %g C is above usual %g C", p.Lower, p.Usual)
	}
	if p.Lower != 0 && p.Upper != 0 && p.Lower >= p.Upper {
		v.bad("lower %g C is not below upper %g C", p.Lower, p.Upper)
	}
	v.celsius("tested: low", p.Tested.Low)
	v.celsius("tested: high", p.Tested.High)
	if p.Tested.Low != 0 && p.Tested.High != 0 && p.Tested.Low >= p.Tested.High {
		v.bad("tested: low %g is not below high %g", p.Tested.Low, p.Tested.High)
	}
	v.band("wanted", p.Wanted, minCelsius, maxCelsius)
	v.band("safe", p.Safe, minCelsius, maxCelsius)
	v.band("humidity", p.Humidity, 0, 1)
	v.band("egg_g", p.EggG, minEggG, maxEggG)
	for i, r := range p.References {
		v.reference(fmt.Sprintf("reference %d", i+1), r)
	}
	if p.Base != 0 || p.DegreeDays != 0 {
		v.line(p)
	} else if len(p.References) == 0 && p.Family == "" && p.Order == "" {
		v.bad("says nothing of how long its eggs take; give a reference, a family, or base and degree_days")
	}
	switch p.Model {
	case "", ModelLine, ModelCurve:
	default:
		v.bad("model %q, want %q or %q", p.Model, ModelLine, ModelCurve)
	}
	return errors.Join(v.errs...)
}

// validator collects what is wrong with a profile.
type validator struct {
	profile string
	errs    []error
}

func (v *validator) bad(format string, args ...any) {
	v.errs = append(v.errs, fmt.Errorf("profile %q: "+format, append([]any{v.profile}, args...)...))
}

func (v *validator) celsius(key string, c float64) {
	if c != 0 && !(c >= minCelsius && c <= maxCelsius) {
		v.bad("%s is %g C, want %g to %g C", key, c, minCelsius, maxCelsius)
	}
}

func (v *validator) band(key string, b Band, low, high float64) {
	switch {
	case b == Band{}:
	case !(b.Low < b.High):
		v.bad("%s: low %g is not below high %g", key, b.Low, b.High)
	case b.Low < low && !math.IsInf(b.Low, -1) || b.High > high && !math.IsInf(b.High, 1):
		v.bad("%s: %g to %g, want within %g to %g", key, b.Low, b.High, low, high)
	}
}

func (v *validator) reference(key string, r Reference) {
	if r.Celsius == 0 {
		v.bad("%s has no celsius", key)
	}
	v.celsius(key+": celsius", r.Celsius)
	if !(r.Days >= minDays && r.Days <= maxDays) {
		v.bad("%s: %g days, want %g to %g", key, r.Days, minDays, maxDays)
	}
	if !(r.DailyRange >= 0 && r.DailyRange <= maxDailyRangeK) {
		v.bad("%s: daily range %g K, want 0 to %g", key, r.DailyRange, maxDailyRangeK)
	}
	if !(r.SD >= 0) || r.SD > r.Days/2 {
		v.bad("%s: sd %g days, want 0 to half the duration", key, r.SD)
	}
	if r.N < 0 {
		v.bad("%s: %d eggs", key, r.N)
	}
	if r.Source == "" {
		v.bad("%s has no source; write \"own notes\" if it is yours", key)
	}
}

func (v *validator) line(p Profile) {
	switch {
	case len(p.References) > 0:
		v.bad("has a degree-day line and references; keep one of them")
	case !(p.Base > -20 && p.Base < maxCelsius):
		v.bad("base %g C, want -20 to %g C", p.Base, maxCelsius)
	case !(p.DegreeDays >= 50 && p.DegreeDays <= 20000):
		v.bad("degree_days is %g, want 50 to 20000 Celsius days", p.DegreeDays)
	case p.Usual != 0 && p.Usual < p.Base+minAboveBaseK:
		v.bad("usual %g C is not %g K above base %g C", p.Usual, minAboveBaseK, p.Base)
	case p.Upper != 0 && p.Upper < p.Base+minAboveBaseK:
		v.bad("upper %g C is not %g K above base %g C", p.Upper, minAboveBaseK, p.Base)
	}
}
