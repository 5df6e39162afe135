package profile

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"example.com/ootherm/thermal"
)

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s is %.4f, want %.4f within %g", what, got, want, within)
	}
}

func builtinNamed(t *testing.T, name string) Profile {
	t.Helper()
	all, err := Builtin()
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range all {
		if p.Name == name {
			return p
		}
	}
	t.Fatalf("%q is not built in", name)
	return Profile{}
}

// One common-practice point, 100 d at 23.3 C, and the geckos' row.
func TestCrestedGeckoChecks(t *testing.T) {
	b, err := builtinNamed(t, "crested gecko").Belief()
	if err != nil {
		t.Fatal(err)
	}
	near(t, "slope", b.Slope, 0.127, 0.001)
	for _, want := range []struct{ celsius, days float64 }{{20, 155}, {21.5, 123}, {23.3, 96}, {24, 88}, {26, 71}} {
		_, days, _ := b.Interval(want.celsius)
		near(t, "days", days, want.days, 1)
		near(t, "days by the rate", 1/b.Rate().PerDay(want.celsius), want.days, 1)
	}
	low, _, high := b.Interval(23.3)
	near(t, "low end of one clutch's 80 % interval", low, 78, 0.5)
	near(t, "high end of one clutch's 80 % interval", high, 117, 0.5)
	line := b.Line()
	near(t, "base of the line", line.Base, 15.45, 0.05)
	near(t, "requirement of the line", line.Required, 752, 1.5)
	// The rule of thumb: 20-30 days longer at 21-22 C.
	_, cool, _ := b.Interval(21.5)
	_, usual, _ := b.Interval(23.3)
	if longer := cool - usual; !(longer >= 20 && longer <= 30) {
		t.Errorf("%.0f days longer at 21.5 C, want 20 to 30", longer)
	}
}

// Own hatches, 10 % later than believed: the window moves their way and narrows.
func TestOwnHatchesNarrow(t *testing.T) {
	b, err := builtinNamed(t, "crested gecko").Belief()
	if err != nil {
		t.Fatal(err)
	}
	low0, mid0, high0 := b.Interval(23.3)
	width, last := high0-low0, mid0
	for range 6 {
		b = b.Learn(thermal.Observed{Days: mid0 * 1.1, Celsius: 23.3, Own: true, Eggs: 1})
		low, mid, high := b.Interval(23.3)
		if high-low >= width || mid <= last {
			t.Fatalf("%.1f days wide round %.1f after %d own hatches, was %.1f round %.1f", high-low, mid, b.Own, width, last)
		}
		width, last = high-low, mid
	}
	near(t, "days after six own hatches", last, 107, 3)
}

// A reference that is listed a hundred times is one reference, and a hundred
// points of one study are still one house.
func TestRepeatedReferenceIsOne(t *testing.T) {
	p := Profile{Name: "x", Family: "Agamidae", Usual: 28}
	ref := Reference{Celsius: 28, Days: 60, Source: "own notes"}
	p.References = []Reference{ref}
	one, err := p.Belief()
	if err != nil {
		t.Fatal(err)
	}
	for range 99 {
		p.References = append(p.References, ref)
	}
	hundred, err := p.Belief()
	if err != nil {
		t.Fatal(err)
	}
	if one.Covariance != hundred.Covariance || one.LogDays != hundred.LogDays {
		t.Errorf("listed a hundred times: %v, once: %v", hundred, one)
	}
	for i := range p.References {
		p.References[i].Days += float64(i%5) * 0.1
	}
	many, err := p.Belief()
	if err != nil {
		t.Fatal(err)
	}
	if sd := math.Sqrt(many.Covariance[0][0]); sd < 0.03 {
		t.Errorf("a hundred points of one study leave %.3f of a level: they count as a hundred houses", sd)
	}
}

// Every value built in says where it is from.
func TestBuiltinHasSources(t *testing.T) {
	all, err := Builtin()
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range all {
		for key, has := range map[string]bool{
			"order": p.Order != "", "usual": p.Usual != 0, "lower": p.Lower != 0, "upper": p.Upper != 0, "tested": p.Tested != Band{},
			"wanted": p.Wanted != Band{}, "safe": p.Safe != Band{}, "humidity": p.Humidity != Band{}, "egg_g": p.EggG != Band{},
			"base": p.Base != 0, "degree_days": p.DegreeDays != 0,
			"sex_by_temperature": p.SexByTemperature, "arrested_development": p.ArrestedDevelopment,
		} {
			if source := p.Sources[key]; has != (source != "") {
				t.Errorf("%s: %s known: %v, its source: %q", p.Name, key, has, source)
			}
		}
		for _, r := range p.References {
			if r.Practice != strings.Contains(r.Source, "common practice") {
				t.Errorf("%s: %g C is practice: %v, by its source %q", p.Name, r.Celsius, r.Practice, r.Source)
			}
		}
	}
}

// A line given by hand keeps its base and requirement, and a spread.
func TestPlainLine(t *testing.T) {
	b, err := Profile{Name: "by hand", Line: Line{Base: 15, DegreeDays: 800}}.Belief()
	if err != nil {
		t.Fatal(err)
	}
	line := b.Line()
	near(t, "base", line.Base, 15, 1e-9)
	near(t, "requirement", line.Required, 800, 1e-9)
	if !b.Straight {
		t.Error("a line given by hand became a curve")
	}
	low, mid, high := b.Interval(23)
	near(t, "days at 23 C", mid, 100, 1e-9)
	if spread := math.Log(high/low) / 2; !(spread > 0.15 && spread < 0.35) {
		t.Errorf("80 %% interval %.0f-%.0f d", low, high)
	}
}

// What is wrong with a profile is said, all of it.
func TestValidateSaysWhatIsWrong(t *testing.T) {
	p := Profile{
		Name: "x", Usual: 74, Bounds: Bounds{Upper: 20}, Model: "magic", Climate: Climate{Safe: Band{30, 20}, Humidity: Band{45, 70}},
		References: []Reference{{Celsius: 23, Days: 1}},
	}
	err := p.Validate()
	if err == nil {
		t.Fatal("believed")
	}
	for _, want := range []string{"usual is 74", "upper 20 C is below", "model \"magic\"", "low 30", "within 0 to 1", "1 days", "no source"} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("%q is not in: %v", want, err)
		}
	}
	if err := (Profile{Name: "x"}).Validate(); err == nil || !strings.Contains(err.Error(), "says nothing") {
		t.Errorf("a profile that says nothing: %v", err)
	}
	if _, err := (Profile{Name: "x"}).Belief(); err == nil {
		t.Error("a belief from a profile that says nothing")
	}
}

// With a family alone there is a belief, and the less is known the wider it is.
func TestFamilyAloneIsWide(t *testing.T) {
	width := func(order, family string) float64 {
		b, err := Profile{Name: "x", Order: order, Family: family, Usual: 28}.Belief()
		if err != nil {
			t.Fatal(err)
		}
		low, _, high := b.Interval(28)
		return math.Log(high / low)
	}
	family, order, none := width("Squamata", "Agamidae"), width("Squamata", "Unheardidae"), width("Unheard", "")
	if !(family < order && order < none) {
		t.Errorf("log widths: family %.2f, order %.2f, neither %.2f", family, order, none)
	}
	if width("", "Agamidae") != family {
		t.Error("a family does not find its order")
	}
	if g := width("", "Eublepharidae"); g != width("Squamata", "Gekkonidae") {
		t.Errorf("geckos are not one group: %.2f", g)
	}
}

// Whatever passes Validate has a belief, and nothing in it is not a number;
// whatever does not pass has none.
func TestValidateIsTotal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		number := func(low, high float64) *rapid.Generator[float64] {
			return rapid.OneOf(rapid.Just(0.0), rapid.Float64Range(low, high), rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), -1}))
		}
		p := Profile{
			Name: "x", Family: rapid.SampledFrom([]string{"", "Agamidae", "Gekkonidae", "Unheardidae"}).Draw(t, "family"),
			Usual: number(5, 45).Draw(t, "usual"), Bounds: Bounds{Lower: number(5, 45).Draw(t, "lower"), Upper: number(5, 45).Draw(t, "upper")},
			Line:  Line{Base: number(-25, 40).Draw(t, "base"), DegreeDays: number(1, 5000).Draw(t, "degree days")},
			Model: rapid.SampledFrom([]string{"", ModelLine, ModelCurve}).Draw(t, "model"),
		}
		for range rapid.IntRange(0, 4).Draw(t, "references") {
			p.References = append(p.References, Reference{
				Celsius: number(5, 45).Draw(t, "celsius"), DailyRange: number(0, 20).Draw(t, "range"), Days: rapid.Float64Range(4, 900).Draw(t, "days"),
				SD: number(0, 20).Draw(t, "sd"), N: rapid.IntRange(0, 40).Draw(t, "n"), Source: rapid.SampledFrom([]string{"a", "b"}).Draw(t, "source"),
				Practice: rapid.Bool().Draw(t, "practice"),
			})
		}
		b, err := p.Belief()
		if (err == nil) != (p.Validate() == nil) {
			t.Fatalf("belief: %v, valid: %v", err, p.Validate())
		}
		if err != nil {
			if b != (thermal.Belief{}) {
				t.Fatal("a belief beside an error")
			}
			return
		}
		for _, celsius := range []float64{-40, 5, 20, 28, 36, 60} {
			low, mid, high := b.Interval(celsius)
			if !(low > 0 && low <= mid && mid <= high && !math.IsInf(high, 0)) || math.IsNaN(b.Rate().PerDay(celsius)+b.Line().PerDay(celsius)) {
				t.Fatalf("%v to %v to %v days at %g C by %+v", low, mid, high, celsius, p)
			}
		}
	})
}
