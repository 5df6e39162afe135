package plan

import (
	"cmp"
	"errors"
	"fmt"
	"math"

	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/profile"
)

// FromConfig makes the plan of a configuration. Its profiles are the built-in ones and the
// breeder's own. The breeder's profile replaces a built-in one of the same name.
func FromConfig(c config.Config) (Plan, error) {
	p := Plan{
		Name: c.Station.Name, Units: words.Celsius, Location: c.Station.Location, URL: c.Station.URL,
		Every: c.Station.Every, Flush: c.Station.Flush,
	}
	if c.Station.Fahrenheit {
		p.Units = words.Fahrenheit
	}
	for _, x := range c.Probes {
		p.Probes = append(p.Probes, Probe{Name: x.Name, Bus: x.Bus, Offset: x.Offset, SilentAfter: x.SilentAfter, Thermometer: x.Thermometer})
	}
	for _, z := range c.Zones {
		p.Zones = append(p.Zones, Zone{
			Name: z.Name, Kind: z.Kind, Probes: z.Probes, SetPoint: z.SetPoint,
			Wanted: z.Wanted, Safe: z.Safe, Humidity: z.Humidity,
			Rate: z.Rate, Apart: z.Apart, Single: doseOf(z.Single), Total: doseOf(z.Total),
		})
	}
	for _, x := range c.Senders {
		if x.Kind != LampKind {
			p.Senders = append(p.Senders, Sender{Name: x.Name, Priorities: x.Priorities, After: x.After, AllWell: x.AllWell})
		}
	}
	var faults []error
	own := map[string]bool{} // names of the breeder's profiles
	for _, x := range c.Profiles {
		y := profileOf(x)
		if err := y.Validate(); err != nil {
			faults = append(faults, err)
		}
		own[y.Name] = true
		p.Profiles = append(p.Profiles, y)
	}
	if len(faults) > 0 {
		return Plan{}, usererr.Usage(errors.Join(faults...))
	}
	species, err := profile.Builtin()
	if err != nil {
		return Plan{}, err
	}
	for _, x := range species {
		if !own[x.Name] {
			p.Profiles = append(p.Profiles, x)
		}
	}
	return p, nil
}

// doseOf copies a dose. It keeps nil.
func doseOf(d *config.Dose) *Dose {
	if d == nil {
		return nil
	}
	return &Dose{Low: d.Low, High: d.High, For: d.For}
}

// profileOf makes the profile of a [[profile]] section.
func profileOf(x config.Profile) profile.Profile {
	p := profile.Profile{
		Name: x.Name, Species: x.Species, Order: x.Order, Family: x.Family, Model: x.Model,
		Usual: orZero(x.Usual), Bounds: profile.Bounds{Lower: orZero(x.Lower), Upper: orZero(x.Upper)}, Line: profile.Line{Base: orZero(x.Base), DegreeDays: orZero(x.DegreeDays)},
		Climate: profile.Climate{Wanted: bandOf(x.Wanted), Safe: bandOf(x.Safe)}, EggG: profile.Band(x.EggG),
		SexByTemperature: x.SexByTemperature, ArrestedDevelopment: x.ArrestedDevelopment,
	}
	for i, r := range x.References {
		y := profile.Reference{
			Celsius: r.Celsius, DailyRange: r.DailyRange, Days: r.Days, SD: orZero(r.SDDays),
			Source: r.Source, Study: cmp.Or(r.Study, r.Source, fmt.Sprintf("reference %d", i+1)), Practice: r.Practice,
		}
		if r.N != nil {
			y.N = *r.N
		}
		p.References = append(p.References, y)
	}
	return p
}

// bandOf makes a profile's band. An absent end is infinite.
func bandOf(b *config.Band) profile.Band {
	if b == nil {
		return profile.Band{}
	}
	y := profile.Band{Low: math.Inf(-1), High: math.Inf(1)}
	if b.Low != nil {
		y.Low = *b.Low
	}
	if b.High != nil {
		y.High = *b.High
	}
	return y
}

// orZero returns the value, or 0 for nil.
func orZero(p *float64) float64 {
	if p == nil {
		return 0
	}
	return *p
}
