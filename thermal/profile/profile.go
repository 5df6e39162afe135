package profile

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"example.com/ootherm/thermal"
)

//go:embed species/*.toml
var builtin embed.FS

// Band is a range; the zero Band is none, an infinite end is open.
type Band struct {
	Low  float64 `toml:"low"`
	High float64 `toml:"high"`
}

// Reference is one duration that was published or is common practice.
type Reference struct {
	Celsius    float64 `toml:"celsius"`
	DailyRange float64 `toml:"daily_range"` // K, peak to peak
	Days       float64 `toml:"days"`        // from laying to hatch
	SD         float64 `toml:"sd"`          // days, of one egg; 0: not told
	N          int     `toml:"n"`           // eggs; 0: not told
	Source     string  `toml:"source"`
	Study      string  `toml:"study"` // points of one study share its house; empty: the source is the study
	Practice   bool    `toml:"practice"`
}

// Models of development.
const (
	ModelLine  = "degree-days"
	ModelCurve = "curve"
)

// Profile is the prior knowledge of a species, or of a breeder's own line.
// Temperatures are Celsius, humidities ratios; a zero number is not known. What
// is known must be one of: references, a family or order, or a plain degree-day
// line.
type Profile struct {
	Name    string `toml:"name"`
	Species string `toml:"species"`
	Order   string `toml:"order"`
	Family  string `toml:"family"`

	Usual float64 `toml:"usual"` // where its eggs are usually kept
	Bounds
	Climate
	EggG Band `toml:"egg_g"` // grams, from a fresh egg to one about to hatch

	References []Reference `toml:"reference"`

	Line

	Model string `toml:"model"` // "" (what is known decides), ModelLine or ModelCurve

	SexByTemperature    bool   `toml:"sex_by_temperature"` // then its sex is not predicted
	ArrestedDevelopment bool   `toml:"arrested_development"`
	Notes               string `toml:"notes"`

	Sources map[string]string `toml:"sources"` // of the values above, by their key
}

// Bounds are the temperatures past which little is known; 0: those tested in its kin.
type Bounds struct {
	Lower  float64 `toml:"lower"`  // usually kept no colder
	Upper  float64 `toml:"upper"`  // usually kept no warmer; the rate is held there
	Tested Band    `toml:"tested"` // where its eggs hatched in a published test
}

// Climate is the temperature and the humidity that eggs are kept at.
type Climate struct {
	Wanted   Band `toml:"wanted"`
	Safe     Band `toml:"safe"`
	Humidity Band `toml:"humidity"`
}

// Line is the plain degree-day line: Celsius, Celsius days.
type Line struct {
	Base       float64 `toml:"base"`
	DegreeDays float64 `toml:"degree_days"`
}

// Builtin returns the species that are built in, by name.
func Builtin() ([]Profile, error) {
	names, err := fs.Glob(builtin, "species/*.toml")
	if err != nil {
		return nil, err
	}
	out := make([]Profile, 0, len(names))
	for _, name := range names {
		f, err := builtin.Open(name)
		if err != nil {
			return nil, err
		}
		var p Profile
		err = errors.Join(toml.NewDecoder(f).DisallowUnknownFields().Decode(&p), f.Close())
		if err == nil {
			err = p.Validate()
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		out = append(out, p)
	}
	slices.SortFunc(out, func(a, b Profile) int { return strings.Compare(a.Name, b.Name) })
	return out, nil
}

// How wrong a plain line may be that comes without a reference: its requirement
// as a common-practice point is, its base by a kelvin. Where it does not say
// what is usual, that is taken to be ten kelvin above its base. Assumptions.
const (
	lineBaseSD = 1.0
	lineUsual  = 10.0
)

// Belief is what is believed of the species before any egg of this house has
// hatched.
func (p Profile) Belief() (thermal.Belief, error) {
	if err := p.Validate(); err != nil {
		return thermal.Belief{}, err
	}
	if p.DegreeDays != 0 {
		usual := p.Usual
		if usual == 0 {
			usual = p.Base + lineUsual
			if p.Upper != 0 {
				usual = math.Min(usual, p.Upper)
			}
		}
		slope := 1 / (usual - p.Base)
		b := thermal.Prior(usual, math.Log(p.DegreeDays*slope), thermal.PracticeSD, slope, slope*slope*lineBaseSD)
		b.Tested = p.ownEnds(thermal.Tested{})
		b.Upper, b.Straight, b.References = p.Upper, p.Model != ModelCurve, 1
		return b, nil
	}
	t, err := ReadTable()
	if err != nil {
		return thermal.Belief{}, err
	}
	kin := t.Kin(p.Order, p.Family, p.Species)
	if own, ok := t.Species(p.Species); ok && !p.measured() {
		kin = own
	}
	b := kin.Belief(p.Usual)
	if p.Usual == 0 {
		b = kin.Unusual(p.middle())
	}
	b.Tested, b.Straight = p.testedEnds(t), p.Model == ModelLine
	b.Upper = b.Tested.Warmest.Celsius
	for _, study := range p.studies() {
		b = b.Study(study)
	}
	return b, nil
}

// CountsFromResumption reports whether the durations of a species whose development is
// arrested at first count from when that ends. Those of the profile itself do. What is
// published of the species and its kin counts from laying, the arrest included.
func (p Profile) CountsFromResumption() bool {
	return p.ArrestedDevelopment && (len(p.References) > 0 || p.DegreeDays != 0)
}

// measured reports whether a reference is more than a rule of thumb. It may then be one of
// the published rows, and takes their place.
func (p Profile) measured() bool {
	return slices.ContainsFunc(p.References, func(r Reference) bool { return !r.Practice })
}

// middle is the middle of the references' temperatures, or 28 C, where the common
// course is anchored.
func (p Profile) middle() float64 {
	low, high := math.Inf(1), math.Inf(-1)
	for _, r := range p.References {
		low, high = math.Min(low, r.Celsius), math.Max(high, r.Celsius)
	}
	if low > high {
		return commonUsual
	}
	return (low + high) / 2
}

// studies are the references as observations, those of one study together, in
// the order in which the studies are first named.
func (p Profile) studies() [][]thermal.Observed {
	var out [][]thermal.Observed
	at := map[string]int{}
	for _, r := range p.References {
		name := r.Study
		if name == "" {
			name = r.Source
		}
		i, ok := at[name]
		if !ok {
			i = len(out)
			at[name] = i
			out = append(out, nil)
		}
		out[i] = append(out[i], thermal.Observed{
			Days: r.Days, Celsius: r.Celsius, DailyRange: r.DailyRange, SD: r.SD, Eggs: r.N, Practice: r.Practice,
		})
	}
	return out
}
