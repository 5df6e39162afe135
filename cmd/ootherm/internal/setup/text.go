package setup

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/probes"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/sensor"
)

// text gives the configuration, with comments.
func (w *wizard) text() string {
	var b strings.Builder
	line := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	units := "celsius"
	if w.units == words.Fahrenheit {
		units = "fahrenheit"
	}
	line("# The station. All faults of this file are shown by: ootherm check")
	line("[station]")
	line("name   = %s", config.Quote(w.station))
	line("units  = %q     # what people read", units)
	if w.url == "" {
		line("listen = %s # the page; this machine alone", config.Quote(w.listen))
	} else {
		line("listen = %s # the page; for the home network, behind the passphrase", config.Quote(w.listen))
		line("url    = %s # how a phone finds it: in messages and on labels", config.Quote(w.url))
	}
	line("data   = %s", config.Quote(w.data))
	line(`every  = "10s"            # between two polls`)
	if w.heartbeat != "" {
		line("heartbeat = %s # called while all is well", config.Quote(w.heartbeat))
	}
	line("")
	line("# Probes. A name is an identity: it stays when the part is replaced.")
	line(`# offset = "-0.2C" is added to each reading; ootherm calibrate finds it for you.`)
	for _, p := range w.probes {
		b.WriteString(probes.Stanza(p) + "\n")
	}
	b.WriteString(w.hub.text())
	line("# Alarms go by the worst probe of a zone, its temperature by their median. Wanted:")
	line("# outside it a warning. Safe, outside which it is critical, is that of the eggs that")
	line("# stand there unless it is written here.")
	for _, p := range w.places {
		text := w.zoneText(p)
		if len(p.probes) == 0 {
			line("# No probe hangs here yet. Name one and take the marks away.")
			text = "# " + strings.ReplaceAll(text, "\n", "\n# ")
		}
		line("%s\n", text)
	}
	for _, w := range w.senders {
		b.WriteString(w.text() + "\n")
	}
	if len(w.senders) == 0 {
		line("# [[sender]] # where alarms go; each is tried with ootherm check --send NAME")
		line(`# name = "mail"`)
		line(`# kind = "email"`)
		line(`# host = "smtp.example.org"`)
		line(`# to   = ["keeper@example.org"]`)
	}
	return b.String()
}

// zoneText gives the section of a place, without a line end.
func (w *wizard) zoneText(p place) string {
	var names []string
	for _, name := range p.probes {
		names = append(names, config.Quote(name))
	}
	lines := []string{"[[zone]]", "name   = " + config.Quote(p.name), fmt.Sprintf("kind   = %q", p.kind), "probes = [" + strings.Join(names, ", ") + "]"}
	if p.setPoint != "" {
		lines = append(lines, fmt.Sprintf("set_point = %q", p.setPoint))
	}
	if ends := w.bandText(p); ends != "" {
		from := "usual for " + p.species.Name
		if p.ownBand != nil {
			from = "as answered in setup"
		}
		lines = append(lines, fmt.Sprintf(`wanted = { %s, on_delay = "10m", off_delay = "5m" } # %s`, ends, from))
	} else {
		lines = append(lines, `# wanted = { low = "72F", high = "76F" }`)
	}
	return strings.Join(lines, "\n")
}

// bandText gives the ends of a place's wanted band in the reader's unit, to a tenth. It is
// empty where the place has none.
func (w *wizard) bandText(p place) string {
	x, ok := p.wanted()
	if !ok {
		return ""
	}
	var ends []string
	for _, e := range []struct {
		name string
		c    float64
	}{{"low", x.Low}, {"high", x.High}} {
		if math.IsInf(e.c, 0) {
			continue
		}
		v, unit := e.c, "C"
		if w.units == words.Fahrenheit {
			v, unit = sensor.ToFahrenheit(e.c), "F"
		}
		ends = append(ends, fmt.Sprintf("%s = %q", e.name, strconv.FormatFloat(math.Round(v*10)/10, 'f', -1, 64)+unit))
	}
	return strings.Join(ends, ", ")
}
