package probes

import (
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/sensor/inventory"
)

// scanJSON gives a scan in the form in which it is published; a value that was not
// measured is null.
func scanJSON(s *inventory.Scan) any {
	type reading struct {
		Celsius  *float64 `json:"temperature_c"`
		Humidity *float64 `json:"relative_humidity"`
		Err      *string  `json:"error"`
		Lacking  *string  `json:"humidity_error"`
	}
	type probe struct {
		Name    string    `json:"probe"`
		Driver  string    `json:"driver"`
		Bus     *string   `json:"bus"`
		Address *string   `json:"address"`
		Device  *string   `json:"device"`
		Path    *string   `json:"path"`
		Known   bool      `json:"configured"`
		Read    []reading `json:"readings"`
	}
	type trouble struct {
		What string `json:"what"`
		Mend string `json:"mend"`
	}
	probes := []probe{}
	for _, f := range s.Found {
		p := probe{Name: f.Name, Driver: f.Driver, Bus: snapshot.OptText(f.Bus), Address: snapshot.OptText(f.Address), Device: snapshot.OptText(f.Device), Path: snapshot.OptText(f.Path), Known: f.Known != ""}
		for _, x := range f.Read {
			if x.Err != nil {
				p.Read = append(p.Read, reading{Err: snapshot.OptText(x.Err.Error())})
				continue
			}
			one := reading{Celsius: snapshot.OptFloat(x.Celsius), Humidity: snapshot.OptFloat(x.Humidity)}
			if x.Lacking != nil {
				one.Lacking = snapshot.OptText(x.Lacking.Error())
			}
			p.Read = append(p.Read, one)
		}
		probes = append(probes, p)
	}
	troubles := []trouble{}
	for _, t := range s.Troubles {
		troubles = append(troubles, trouble{t.What, t.Mend})
	}
	return struct {
		Source   string    `json:"source"`
		Probes   []probe   `json:"probes"`
		Troubles []trouble `json:"troubles"`
	}{"scan", probes, troubles}
}
