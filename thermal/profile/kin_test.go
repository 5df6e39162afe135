package profile

import (
	"math"
	"slices"
	"testing"
)

func table(t *testing.T) *Table {
	t.Helper()
	tb, err := ReadTable()
	if err != nil {
		t.Fatal(err)
	}
	return tb
}

// Leaving a species out is as if its row had never been there, for its family,
// its order and all others.
func TestLeavingOutIsLeavingOutTheRow(t *testing.T) {
	whole := table(t)
	const name = "Oedura lesueurii"
	without := table(t)
	without.species = slices.DeleteFunc(without.species, func(s species) bool { return s.name == name })
	if len(without.species) != len(whole.species)-1 {
		t.Fatalf("%d rows less", len(whole.species)-len(without.species))
	}
	for _, of := range [][2]string{{"Squamata", "Diplodactylidae"}, {"Squamata", "Agamidae"}, {"Squamata", "Unheardidae"}, {"Testudines", "Chelidae"}, {"", ""}} {
		if a, b := whole.Family(of[0], of[1], name), without.Family(of[0], of[1], ""); a != b {
			t.Errorf("%v: %+v left out, %+v never there", of, a, b)
		}
	}
	if whole.Family("Squamata", "Diplodactylidae", name) == whole.Family("Squamata", "Diplodactylidae", "") {
		t.Error("leaving it out changes nothing for its own family")
	}
}

// A family stands between what its own species say and its order.
func TestFamilyIsShrunkToItsOrder(t *testing.T) {
	tb := table(t)
	order := tb.Family("Squamata", "Unheardidae", "")
	for _, c := range []struct {
		family, group string
		species       int
	}{{"Agamidae", "Agamidae", 12}, {"Gekkonidae", geckos, 5}, {"Diplodactylidae", geckos, 5}, {"Viperidae", "Viperidae", 1}} {
		k := tb.Family("Squamata", c.family, "")
		if k.Group != c.group || k.Species != c.species {
			t.Errorf("%s rests on %q, %d species; want %q, %d", c.family, k.Group, k.Species, c.group, c.species)
		}
		var own pooled
		for _, s := range tb.species {
			if s.family == c.group {
				own.add(s.level, s.levelVariance+speciesSD*speciesSD)
			}
		}
		low, high := math.Min(own.mean(), order.LogDays), math.Max(own.mean(), order.LogDays)
		if !(k.LogDays > low && k.LogDays < high) || k.LevelSD >= order.LevelSD || k.LevelSD <= speciesSD {
			t.Errorf("%s: level %.3f give or take %.3f; its species %.3f, its order %.3f give or take %.3f",
				c.family, k.LogDays, k.LevelSD, own.mean(), order.LogDays, order.LevelSD)
		}
	}
}

// A species that was measured and has no reference of its own stands where it was
// found.
func TestMeasuredSpeciesStandsWhereItWasFound(t *testing.T) {
	p := Profile{Name: "x", Species: "Chelodina expansa", Family: "Chelidae", Usual: 28}
	b, err := p.Belief()
	if err != nil {
		t.Fatal(err)
	}
	near(t, "log days", b.LogDays, 5.1025, 1e-9)
	p.Species = "Chelodina"
	wide, err := p.Belief()
	if err != nil {
		t.Fatal(err)
	}
	if b.Covariance[0][0] >= wide.Covariance[0][0]/4 {
		t.Errorf("level variance %.4f of the species, %.4f of its family", b.Covariance[0][0], wide.Covariance[0][0])
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
