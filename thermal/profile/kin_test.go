package profile

import (
	"math"
	"slices"
	"testing"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/profile/internal/mixedmodel"
)

func table(t *testing.T) *Table {
	t.Helper()
	tb, err := ReadTable()
	if err != nil {
		t.Fatal(err)
	}
	return tb
}

// What was measured of a species has no part in what its relatives say of it.
func TestLeavingOutIsLeavingOutTheRow(t *testing.T) {
	whole, without := table(t), table(t)
	const name = "Oedura lesueurii"
	without.tree.Leaves = slices.DeleteFunc(without.tree.Leaves, func(l mixedmodel.Leaf) bool { return l.Path[mixedmodel.Species] == name })
	if len(without.tree.Leaves) != len(whole.tree.Leaves)-1 {
		t.Fatalf("%d rows less", len(whole.tree.Leaves)-len(without.tree.Leaves))
	}
	if a, b := whole.Kin("Squamata", "Diplodactylidae", name), without.Kin("Squamata", "Diplodactylidae", name); a != b {
		t.Errorf("%+v left out, %+v never there", a, b)
	}
	if whole.Kin("Squamata", "Diplodactylidae", "Oedura monilis").Level == without.Kin("Squamata", "Diplodactylidae", "Oedura monilis").Level {
		t.Error("leaving it out changes nothing for its genus")
	}
}

// A species of a known genus stands nearer to the genus than its family does; a family
// stands nearer to its order than its own species do. The less is known, the wider it is.
func TestKin(t *testing.T) {
	tb := table(t)
	order := tb.Kin("Squamata", "Unheardidae", "")
	if order.Group != "Squamata" || tb.Kin("Unheard", "", "").Group != allReptiles {
		t.Errorf("an unknown family rests on %q", order.Group)
	}
	for _, c := range []struct {
		family, species, group string
		number                 int
	}{
		{"Agamidae", "", "Agamidae", 12}, {"Gekkonidae", "", Geckos, 5}, {"Diplodactylidae", "", Geckos, 5}, {"Viperidae", "", "Viperidae", 1},
		{"Phrynosomatidae", "Sceloporus jarrovii", "Sceloporus", 5},
		{"Phrynosomatidae", "Sceloporus undulatus", "Sceloporus", 4},
		{"", "Sceloporus jarrovii", "Sceloporus", 5},
		{"Diplodactylidae", "Oedura lesueurii", Geckos, 4},
	} {
		k := tb.Kin("Squamata", c.family, c.species)
		if k.Group != c.group || k.Species != c.number {
			t.Errorf("%s, %s rests on %q, %d species; want %q, %d", c.family, c.species, k.Group, k.Species, c.group, c.number)
		}
		if k.LevelSD >= order.LevelSD || k.SlopeSD <= 0 {
			t.Errorf("%s, %s: %+v, its order %+v", c.family, c.species, k, order)
		}
	}
	family, genus := tb.Kin("Squamata", "Phrynosomatidae", ""), tb.Kin("Squamata", "Phrynosomatidae", "Sceloporus jarrovii")
	if genus.LevelSD > 0.6*family.LevelSD || genus.SlopeSD >= family.SlopeSD {
		t.Errorf("of a known genus %+v, of its family %+v", genus, family)
	}
	if tb.Kin("", "Agamidae", "") != tb.Kin("Squamata", "Agamidae", "") {
		t.Error("a family does not find its order")
	}
	if g := tb.Kin("", "Eublepharidae", ""); g != tb.Kin("Squamata", "Gekkonidae", "") {
		t.Errorf("geckos are not one group: %+v", g)
	}
}

// The slopes of geckos scatter most, and a species' own slope is not shrunk twice: that of
// Heteronotia binoei is 0.153 a kelvin by twelve rows.
func TestSlopesOfGeckos(t *testing.T) {
	tb := table(t)
	gecko, agama := tb.Kin("Squamata", "Gekkonidae", ""), tb.Kin("Squamata", "Agamidae", "")
	if gecko.SlopeSD < 0.035 || gecko.SlopeSD < 1.5*agama.SlopeSD {
		t.Errorf("the slope of a gecko is known to %.3f, that of an agama to %.3f", gecko.SlopeSD, agama.SlopeSD)
	}
	k, ok := tb.Species("Heteronotia binoei")
	if !ok {
		t.Fatal("it is not in the table")
	}
	near(t, "slope of Heteronotia binoei", k.Belief(27).Slope, 0.150, 0.004)
}

// A species that was measured and has no reference but a rule of thumb stands where it was
// found. A measured reference may be one of its rows, and takes their place.
func TestMeasuredSpeciesStandsWhereItWasFound(t *testing.T) {
	p := Profile{Name: "x", Species: "Chelodina expansa", Family: "Chelidae", Usual: 26}
	belief := func() thermal.Belief {
		t.Helper()
		b, err := p.Belief()
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	own := belief()
	near(t, "log days", own.LogDays, 5.155, 0.01)
	if own.References != 2 {
		t.Errorf("%d rows count, want its two", own.References)
	}
	p.References = []Reference{{Celsius: 26, Days: 200, Source: "a", Practice: true}}
	if b := belief(); b.References != 3 || !(b.Covariance[0][0] < own.Covariance[0][0]) {
		t.Errorf("beside a rule of thumb %d references, variance %.4f of %.4f", b.References, b.Covariance[0][0], own.Covariance[0][0])
	}
	p.References[0].Practice = false
	if b := belief(); b.References != 1 {
		t.Errorf("%d references, want the one that was measured", b.References)
	}
	p.References, p.Species = nil, "Chelodina"
	if wide := belief(); own.Covariance[0][0] >= wide.Covariance[0][0]/3 || wide.References != 0 {
		t.Errorf("level variance %.4f of the species, %.4f of its genus", own.Covariance[0][0], wide.Covariance[0][0])
	}
}

// Warmer than the warmest that was tested nothing is known: of the family, else
// of the order, and a breeder's own reference counts too.
func TestUpperIsTheWarmestTested(t *testing.T) {
	for _, c := range []struct {
		p    Profile
		want float64
	}{
		{Profile{Name: "x", Family: "Eublepharidae", Usual: 28}, 30},
		{Profile{Name: "x", Order: "Squamata", Family: "Unheardidae", Usual: 28}, 38},
		{Profile{Name: "x", Family: "Agamidae", Usual: 28, Bounds: Bounds{Upper: 31}}, 31},
		{Profile{Name: "x", Family: "Eublepharidae", References: []Reference{{Celsius: 30, DailyRange: 5, Days: 45, Source: "own notes"}}}, 32.5},
	} {
		b, err := c.p.Belief()
		if err != nil {
			t.Fatal(err)
		}
		if b.Upper != c.want {
			t.Errorf("%+v: upper %g, want %g", c.p, b.Upper, c.want)
		}
	}
}

// What is known ends where the species was tested, or its genus, its family, its order or
// any reptile. What a profile states goes first, and is called tested only where it was.
func TestTestedEnds(t *testing.T) {
	leopard, crested := builtinNamed(t, "leopard gecko"), builtinNamed(t, "crested gecko")
	for _, c := range []struct {
		p                      Profile
		cold, warm             float64
		coldTested, warmTested bool
		group                  string
	}{
		{Profile{Species: "Elaphe carinata", Family: "Colubridae"}, 24, 32, true, true, "Elaphe carinata"},
		{Profile{Species: "Phrynocephalus mystaceus", Family: "Agamidae"}, 24, 34, true, true, "Phrynocephalus"},
		{Profile{Species: "Chelodina expansa", Family: "Chelidae"}, 22, 32, true, true, "Chelodina"},
		{Profile{Species: "Emys orbicularis", Family: "Emydidae"}, 22, 32, true, true, "Emydidae"},
		{Profile{Family: "Viperidae", Usual: 29}, 24, 30, true, true, "Viperidae"},
		{Profile{Order: "Squamata", Family: "Unheardidae"}, 15, 38, true, true, "Squamata"},
		{Profile{Species: "Unheard of", References: []Reference{{Celsius: 28, Days: 60, Source: "a"}}}, 15, 38, true, true, "all reptiles"},
		{Profile{Family: "Gekkonidae", References: []Reference{{Celsius: 21, DailyRange: 4, Days: 90, Source: "a", Practice: true}}}, 21, 30, false, true, ""},
		{Profile{Family: "Gekkonidae", Usual: 22}, 22, 30, false, true, ""},
		{leopard, 23, 35, true, true, "Gekkota"},
		{crested, 20, 27, false, false, ""},
	} {
		c.p.Name = "x"
		b, err := c.p.Belief()
		if err != nil {
			t.Fatal(err)
		}
		cold, warm := b.Tested.Coldest, b.Tested.Warmest
		if cold.Celsius != c.cold || cold.Practice == c.coldTested || cold.Group != c.group || warm.Celsius != c.warm || warm.Practice == c.warmTested || b.Upper != c.warm {
			t.Errorf("%s, %s: %+v to %+v, want %g to %g of %q", c.p.Species, c.p.Family, cold, warm, c.cold, c.warm, c.group)
		}
	}
}

// Where the usual temperature is not known the references stand in for it, and
// their days are found again.
func TestUnusualStandsWhereItsReferencesAre(t *testing.T) {
	p := Profile{Name: "x", Family: "Agamidae", References: []Reference{
		{Celsius: 26, Days: 72, Source: "a"}, {Celsius: 30, Days: 52, Source: "b"},
	}}
	b, err := p.Belief()
	if err != nil {
		t.Fatal(err)
	}
	near(t, "usual temperature", b.Usual, 28, 1e-9)
	for _, r := range p.References {
		if _, mid, _ := b.Interval(r.Celsius); math.Abs(mid/r.Days-1) > 0.04 {
			t.Errorf("%.1f days at %g C, want about %g", mid, r.Celsius, r.Days)
		}
	}
}
