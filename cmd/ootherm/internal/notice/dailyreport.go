package notice

import (
	"fmt"
	"strings"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// DailyReport is the line of the day: which alarms stand, what is out of service, the lowest
// and the highest of each zone over the last day, in C by zone, and the window to come first.
func DailyReport(f Facts, standing []alert.Alarm, day map[string][2]float64, r words.Reader) (subject, body string) {
	c := &composer{f, r}
	var b strings.Builder
	var alarms []string
	for _, x := range standing {
		k := x.Key
		if x.True && !x.Hidden && k.Priority != alert.Notice {
			alarms = append(alarms, c.place(k)+" "+words.Alarm(string(k.Kind)).Wrong+" since "+r.When(x.Began, c.Now))
		}
	}
	subject = words.Subject(words.Fine, c.Station, "all well")
	if off := offHeadline(c.OutOfService); off != "" {
		subject = words.Subject(words.Other, c.Station, off)
	}
	if n := len(alarms); n > 0 {
		subject = words.Subject(words.Other, c.Station, words.Count(n, "alarm stands", "alarms stand"))
	}
	fmt.Fprintf(&b, "%s\n", subject)
	if len(alarms) > 0 {
		fmt.Fprintf(&b, "%s.\n", words.Capital(strings.Join(alarms, "; ")))
	}
	for _, o := range c.OutOfService {
		b.WriteString(c.offText(o) + "\n")
	}
	if zones := c.zonesOfDay(day); len(zones) > 0 {
		fmt.Fprintf(&b, "Last day: %s.\n", strings.Join(zones, "; "))
	}
	answer := 0
	for _, p := range c.Probes {
		if p.Fresh {
			answer++
		}
	}
	fmt.Fprintf(&b, "%d of %s.\n", answer, words.Count(len(c.Probes), "probe answers", "probes answer"))
	if next := c.nextWindow(); next != "" {
		fmt.Fprintf(&b, "Next window: %s.\n", next)
	}
	b.WriteString("This comes once a day. If it does not, look at the station")
	if c.URL != "" {
		b.WriteString(": " + c.URL)
	}
	b.WriteString("\n")
	return subject, b.String()
}

func (c *composer) zonesOfDay(day map[string][2]float64) (zones []string) {
	for _, z := range c.Zones {
		span := "nothing measured"
		if d, ok := day[z.Name]; ok {
			if span = c.r.Temperature(d[0]); span != c.r.Temperature(d[1]) {
				span = c.r.Band(&d[0], &d[1])
			}
		}
		zones = append(zones, z.Name+" "+span)
	}
	return zones
}

// nextWindow is the clutch that hatches first, and when; empty where none waits.
func (c *composer) nextWindow() string {
	var first *Clutch
	for i := range c.Clutches {
		x := &c.Clutches[i]
		if x.Waiting && x.Window != nil && (first == nil || x.Window.CheckFrom.Before(first.Window.CheckFrom)) {
			first = x
		}
	}
	if first == nil {
		return ""
	}
	who := first.Name
	if len(first.Dams) > 0 {
		who += " (" + strings.Join(first.Dams, " or ") + ")"
	}
	return who + " in " + first.Box + ", " + c.r.Window(*first.Window)
}
