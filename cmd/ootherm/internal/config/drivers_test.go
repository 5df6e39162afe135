package config

import (
	"fmt"

	"example.com/ootherm/sensor/catalog"
)

// drivers gives the drivers of this program, as the command hands them to the parser.
func drivers() []Variant {
	var all []Variant
	for _, d := range catalog.Drivers() {
		v := Variant{Name: d.Name, Keys: d.Keys, Need: d.Need, Thermometer: d.Humidity == catalog.Never}
		if d.First != 0 {
			v.Address, v.Last = fmt.Sprintf("0x%02x", d.First), fmt.Sprintf("0x%02x", d.Last)
		}
		all = append(all, v)
	}
	return all
}
