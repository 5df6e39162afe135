package setup

import (
	"cmp"
	"context"
	"slices"
	"strconv"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/probes"
	"example.com/ootherm/cmd/ootherm/internal/prompt"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/catalog"
	"example.com/ootherm/sensor/inventory"
	"example.com/ootherm/thermal/profile"
)

// place is one zone as it will be in the configuration.
type place struct {
	name, kind      string
	setPoint        string // with its unit; empty: not known
	setPointCelsius float64
	species         profile.Profile // whose eggs stand there
	ownBand         *profile.Band   // the limits that were typed; nil: the species' own
	probes          []string
}

// askPlaces asks for the places where boxes stand, one after the other.
func (w *wizard) askPlaces(t *dialog) error {
	var all []profile.Profile
	kinds := []string{"room", "shelf", "incubator"}
	usual := place{name: "room"}
	for {
		p := place{}
		var err error
		if p.name, err = w.askPlaceName(t, usual.name); err != nil {
			return err
		}
		if p.kind, err = t.askChoice("It is a", kinds...); err != nil {
			return err
		}
		if err := w.askSetPoint(t, &p); err != nil {
			return err
		}
		if all == nil {
			if all, err = listSpecies(t); err != nil {
				return err
			}
		}
		if p.species, err = askSpecies(t, all, "Whose eggs will stand there", cmp.Or(usual.species.Name, "crested gecko")); err != nil {
			return err
		}
		w.places = append(w.places, p)
		more, err := t.Yes("Another place with eggs, such as an incubator")
		if err != nil || !more {
			return err
		}
		usual = place{name: "incubator", species: p.species}
		kinds = []string{"incubator", "room", "shelf"}
	}
}

// askPlaceName asks for a name that no place before has.
func (w *wizard) askPlaceName(t *dialog, usual string) (string, error) {
	for {
		name, err := t.askName("A name for the place the boxes stand in", usual, "zone")
		if err != nil || !slices.Contains(w.placeNames(), name) {
			return name, err
		}
		t.Say("%q is another's name already.", name)
	}
}

func (w *wizard) placeNames() (all []string) {
	for _, p := range w.places {
		all = append(all, p.name)
	}
	return all
}

// hang asks in which place a probe hangs, where there are several.
func (w *wizard) hang(t *dialog, probe string) error {
	at := w.places[0].name
	if len(w.places) > 1 {
		var err error
		if at, err = t.askChoice("  it hangs in", w.placeNames()...); err != nil {
			return err
		}
	}
	for i := range w.places {
		if w.places[i].name == at {
			w.places[i].probes = append(w.places[i].probes, probe)
		}
	}
	return nil
}

// The coolest and the warmest temperature that a place may be held at, Celsius (our choice:
// outside them an answer is a slip, or in the other unit).
const minSetPoint, maxSetPoint = 10, 40

// askSetPoint asks for the temperature at which a place is held.
func (w *wizard) askSetPoint(t *dialog, p *place) error {
	unit := "C"
	if w.units == words.Fahrenheit {
		unit = "F"
	}
	for {
		answer, err := t.Ask("Its thermostat is set to, or it is held at, in " + unit + " (Enter: not known, and the first windows are wide)")
		if err != nil || answer == "" {
			return err
		}
		v, err := prompt.Degrees(answer, unit)
		if err != nil {
			t.Say("%q is not a number.", answer)
			continue
		}
		c := v
		if unit == "F" {
			c = sensor.FromFahrenheit(v)
		}
		if c >= minSetPoint && c <= maxSetPoint {
			p.setPoint, p.setPointCelsius = strconv.FormatFloat(v, 'f', -1, 64)+unit, c
			return nil
		}
		r := words.Reader{Units: w.units}
		t.Say("%q is no set point between %s and %s; is it the other unit?", answer, r.Temperature(minSetPoint), r.Temperature(maxSetPoint))
	}
}

// listSpecies shows the built-in species and gives them.
func listSpecies(t *dialog) ([]profile.Profile, error) {
	all, err := profile.Builtin()
	if err != nil {
		return nil, err
	}
	t.Say("Species that are built in:")
	for i, p := range all {
		t.Say("  %2d %s", i+1, p.Name)
	}
	return all, nil
}

// askSpecies asks for one of the species, by its number or name.
func askSpecies(t *dialog, all []profile.Profile, question, usual string) (profile.Profile, error) {
	for {
		answer, err := t.askOr(question+", by number or name", usual)
		if err != nil {
			return profile.Profile{}, err
		}
		for i, p := range all {
			if strings.EqualFold(p.Name, answer) || strconv.Itoa(i+1) == answer {
				return p, nil
			}
		}
		t.Say("%q is none of these. Another species can be added later: ootherm help species", answer)
	}
}

// scanned is what a scan for probes came to.
type scanned struct {
	found    []inventory.Found
	troubles []inventory.Trouble
}

// scanProbes reads every probe of this machine.
func scanProbes(ctx context.Context, in inventory.Places) (scanned, error) {
	s, err := inventory.Take(ctx, in, nil)
	if err != nil {
		return scanned{}, err
	}
	return scanned{s.Found, s.Troubles}, s.Close()
}

// chooseProbes asks which of the probes to use and how to name them, and for those of a hub.
// Where none is chosen, it offers an invented one. The file is the configuration's.
func (w *wizard) chooseProbes(t *dialog, scan func() (scanned, error), file string) error {
	t.Say("Looking for probes ...")
	s, err := scan()
	if err != nil {
		return err
	}
	r := words.Reader{Units: w.units}
	for _, f := range s.found {
		t.Say("%s reads %s", probes.Where(f.Settings), probes.Outcome(f.Read[len(f.Read)-1], r))
		if err := w.askProbe(t, f); err != nil {
			return err
		}
	}
	if err := w.askHub(t, file); err != nil {
		return err
	}
	if len(probeNames(w)) > 0 {
		for _, p := range w.places {
			if len(p.probes) == 0 {
				t.Say("No probe hangs in %s: it is written as a comment, to be made a place once one does.", p.name)
			}
		}
		return w.askLimits(t)
	}
	for _, x := range s.troubles {
		t.Say("%s.\n    %s", words.Capital(x.What), x.Mend)
	}
	invented, err := t.Yes("No probe is chosen. Begin with an invented one, to try it all")
	if err != nil {
		return err
	}
	if !invented {
		return usererr.New("nothing was written: a station without a probe watches nothing; see ootherm probes, then run setup again")
	}
	for i := range w.places {
		name := "invented"
		if i > 0 {
			name += "-" + strconv.Itoa(i+1)
		}
		w.probes = append(w.probes, catalog.Settings{Name: name, Driver: "simulated"})
		w.places[i].probes = []string{name}
	}
	return w.askLimits(t)
}

// askProbe asks for the name of a probe that answers, and where it hangs.
func (w *wizard) askProbe(t *dialog, f inventory.Found) error {
	for {
		name, err := t.askName("  its name, by where it hangs (- leaves it out)", f.Name, "probe")
		if err != nil || name == "-" {
			return err
		}
		if slices.Contains(probeNames(w), name) {
			t.Say("  %q is another's name already.", name)
			continue
		}
		f.Settings.Name = name
		w.probes = append(w.probes, f.Settings)
		if last := f.Read[len(f.Read)-1]; last.Err == nil {
			w.readings[name] = last.Celsius
		}
		return w.hang(t, name)
	}
}
