package notice

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// steadyKPerHour is a change, K an hour, that does not show in an hour (our choice).
const steadyKPerHour = 0.05

// maxNamedBoxes is how many boxes a message names (our choice).
const maxNamedBoxes = 6

// farDeveloped is the share of its development from which a clutch is named as far along
// (our choice).
const farDeveloped = 0.8

// trendSentence says how the last ten minutes went. A probe that reads in coarse steps is often
// steady while it falls, so the half hour is told too where it moved.
func trendSentence(r words.Reader, kPerHour, halfHourK float64) string {
	switch {
	case math.IsNaN(kPerHour):
		return ""
	case math.Abs(kPerHour) < steadyKPerHour && math.Abs(halfHourK) >= movedKelvin:
		return fmt.Sprintf("Steady for ten minutes, after %s %s in half an hour.", fallingOrRising(halfHourK), r.Difference(math.Abs(halfHourK)))
	case math.Abs(kPerHour) < steadyKPerHour:
		return "Steady for ten minutes."
	case kPerHour > 0:
		return "Last ten minutes: rising " + r.PerHour(kPerHour) + "."
	}
	return "Last ten minutes: falling " + r.PerHour(-kPerHour) + "."
}

// fallingOrRising is the word for a change by some kelvin.
func fallingOrRising(kelvin float64) string {
	if kelvin > 0 {
		return "rising"
	}
	return "falling"
}

// zone is a zone by its name; nil where there is none.
func (c *composer) zone(name string) *Zone {
	for i := range c.Zones {
		if c.Zones[i].Name == name {
			return &c.Zones[i]
		}
	}
	return nil
}

// place is where an alarm is, for the subject.
func (c *composer) place(k alert.Key) string {
	switch {
	case k.Box != "" && k.Clutch != "":
		who := k.Clutch
		if x := c.clutch(k, ""); x != nil && len(x.Dams) > 0 {
			who = strings.Join(x.Dams, " or ") + " " + who
		}
		return k.Box + " " + who
	case k.Box != "":
		return "box " + k.Box
	case k.Kind == alert.BusSilent:
		return c.zoneOfBus(k.Part)
	case k.Part != "":
		return k.Part
	case k.Probe != "" && (k.Kind == alert.ProbeSilent || k.Kind == alert.HumiditySilent):
		return k.Zone + " " + k.Probe
	case k.Zone != "":
		return k.Zone
	}
	return c.Station
}

// zoneOfBus is the zone that all probes of a bus are in; the station where there are several.
func (c *composer) zoneOfBus(bus string) string {
	at := ""
	for _, p := range c.Buses[bus] {
		for _, z := range c.Zones {
			if !slices.Contains(z.Probes, p) {
				continue
			}
			if at != "" && at != z.Name {
				return c.Station
			}
			at = z.Name
		}
	}
	return cmp.Or(at, c.Station)
}

// eggsAtRisk is what is in a zone: its boxes and eggs, and which clutches are far along.
func (c *composer) eggsAtRisk(zone string) string {
	if zone == "" {
		return ""
	}
	boxes, far, eggs := map[string]bool{}, map[string]bool{}, 0
	for _, x := range c.Clutches {
		if x.Zone != zone || !x.Waiting {
			continue
		}
		boxes[x.Box] = true
		eggs += x.Left
		if x.Developed != nil && *x.Developed >= farDeveloped {
			far[x.Name] = true
		}
	}
	if eggs == 0 {
		return "No eggs here by the book."
	}
	text := fmt.Sprintf("Eggs here: %s, %s", words.Count(len(boxes), "box", "boxes"), words.Count(eggs, "egg", "eggs"))
	if len(far) > 0 {
		text += fmt.Sprintf("; %s past 80 %%", words.Count(len(far), "clutch", "clutches"))
	}
	text += "."
	if names := slices.Sorted(maps.Keys(boxes)); len(names) == 1 {
		text += " Box " + names[0] + "."
	} else if len(names) <= maxNamedBoxes {
		text += " Boxes " + strings.Join(names, ", ") + "."
	}
	return text
}

// secondOpinion is what another probe of the zone gives, and whether it agrees with the probe
// that the alarm goes by.
func (c *composer) secondOpinion(k alert.Key, said words.AlarmText) string {
	z, probe := c.zone(k.Zone), c.Alarms[k].Probe
	if z == nil || len(z.Probes) == 1 && (probe == "" || probe == z.Probes[0]) {
		return ""
	}
	by := ""
	first, known := c.Probes[probe]
	if known {
		by = "By probe " + where(first) + ". "
	}
	switch said.Quantity {
	case words.Temperature:
	case words.Humidity:
		return strings.TrimSpace(by)
	default:
		return ""
	}
	for _, name := range z.Probes {
		p := c.Probes[name]
		if name == probe || !p.Fresh || math.IsNaN(p.Celsius) {
			continue
		}
		text := by + fmt.Sprintf("Second probe (%s): %s", name, c.r.Temperature(p.Celsius))
		switch {
		case !known || z.ApartK == 0: // the configuration asks for no comparison
			return text + "."
		case math.Abs(p.Celsius-first.Celsius) <= z.ApartK:
			return text + " (agrees)."
		}
		return text + " (does not agree: look at both)."
	}
	return by + "No second probe answers."
}
