package replay

import (
	"strings"
	"time"
	"unicode"

	"example.com/ootherm/alert/backtest"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
)

// station is the pace of the station, and the kinds of its zones.
func (o DriftBacktestOptions) station() (time.Duration, zoneKinds, error) {
	if o.Config == "" {
		return o.Pace, nil, nil
	}
	c, err := config.LoadReplay(o.Config, probeconfig.Drivers())
	if err != nil {
		return 0, nil, err
	}
	p, err := plan.FromConfig(c)
	if err != nil {
		return 0, nil, err
	}
	kinds := zoneKinds{}
	for _, z := range p.Zones {
		for _, name := range append([]string{z.Name}, z.Probes...) {
			kinds[name] = z.Kind
		}
	}
	if o.PaceGiven {
		return o.Pace, kinds, nil
	}
	return p.Every, kinds, nil
}

// zoneKinds are the kinds of zones by the names of the zones and of their probes.
type zoneKinds map[string]string

// kindWords are the words in a name that tell the kind of a zone.
var kindWords = map[string]string{
	"room": backtest.Room, "rooms": backtest.Room, "bedroom": backtest.Room, "house": backtest.Room, "office": backtest.Room,
	"shelf": backtest.Shelf, "shelves": backtest.Shelf,
	"incubator": backtest.Incubator, "incubators": backtest.Incubator,
}

// of is the kind of the zone of a probe in a file; empty where it is not known. The
// configuration comes first, then the name of the probe, then that of the file.
func (k zoneKinds) of(probe, file string) string {
	if kind := k[probe]; kind != "" {
		return kind
	}
	for _, name := range [...]string{probe, file} {
		for _, word := range strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return !unicode.IsLetter(r) }) {
			if kind := kindWords[word]; kind != "" {
				return kind
			}
		}
	}
	return ""
}
