package station

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"net/url"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/rules"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/sensor/zone"
)

// message puts an event into the words of the person it wakes: what, where, how
// far, since when, which way it goes, what is at stake, what to do first, and
// when the next message comes.
func (s *Station) message(e alert.Event, probe string) alert.Message {
	m := alert.Message{At: e.At, Priority: e.Key.Priority}
	said := words.Alarm(string(e.Key.Kind))
	if e.To != alert.Active {
		m.Over = true
		m.Subject, m.Body = s.over(e, said)
		return m
	}
	value, _ := s.figures(e, said)
	m.Subject = s.headline(e, said)

	var b strings.Builder
	line := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	line("%s", m.Subject)
	line("%s.", sentence(words.Priority(string(e.Key.Priority))))
	since := ""
	drift := rules.IsDrift(e.Key.Kind)
	switch lasted := e.At.Sub(e.Began); { // what begins with being told says nothing of that
	case drift:
	case rules.IsSilence(e.Key.Kind):
		since = s.silentSince(e)
	case lasted >= time.Minute:
		since = fmt.Sprintf("Since %s (%s).", s.reader().When(e.Began, e.At), words.Span(lasted))
	case peaks(e.Key.Kind):
		since = fmt.Sprintf("Since %s.", s.reader().When(e.Began, e.At))
	}
	if peak := s.reader().Value(said.Quantity, snapshot.OptFloat(e.Peak)); peak != "" && peak != value && peaks(e.Key.Kind) {
		since += " " + worst(e) + " " + peak + "."
	}
	if z := s.zoneOf(e.Key.Zone); z != nil && said.Quantity == words.Temperature {
		rate := z.trend.PerHour()
		if against := e.Key.Kind == alert.DriftUp && rate < level || e.Key.Kind == alert.DriftDown && rate > -level; !against {
			since += " " + trendSentence(s.reader(), rate) // of a drift, only if it bears it out
		}
	}
	if since = strings.TrimSpace(since); since != "" {
		line("%s", since)
	}
	for _, x := range s.detail(e) {
		line("%s", x)
	}
	if c := s.beyond(e.Key); c != nil {
		line("%s.", s.reader().Coming(*c, e.At))
	}
	if e.ReAlarm {
		line("Told before; it lasts.")
	}
	if stake := s.stake(e.Key.Zone); stake != "" {
		line("%s", stake)
	}
	if second := s.second(e.Key.Zone, probe, said); second != "" {
		if probe != "" {
			second = "By probe " + probe + ". " + second
		}
		line("%s", second)
	}
	line("First: %s", said.First)
	if help := s.help(e.Key); help != "" {
		line("%s", help)
	}
	if next := s.next(e); next != "" {
		line("%s", next)
	}
	if s.plan.URL != "" {
		line("To say that you saw it: %s/alarm?key=%s%s", strings.TrimSuffix(s.plan.URL, "/"), url.QueryEscape(e.Key.String()), reach(s.plan.URL))
	}
	m.Body = b.String()
	return m
}

// over tells of an alarm's end.
func (s *Station) over(e alert.Event, said words.AlarmText) (subject, body string) {
	r := s.reader()
	if e.Gone {
		return s.gone(e, said)
	}
	var b strings.Builder
	if rules.IsDrift(e.Key.Kind) {
		subject = words.Headline(words.Fine, s.place(e.Key), "no longer "+said.Wrong)
		fmt.Fprintf(&b, "%s\nIt was about to pass %s; as it goes now it will not.\n", subject, r.Temperature(e.Limit))
		if stake := s.stake(e.Key.Zone); stake != "" {
			b.WriteString(stake + "\n")
		}
		return subject, b.String()
	}
	subject = words.Headline(words.Fine, s.place(e.Key), "back in order "+r.Clock(e.At))
	old, changed := s.panel.RaisedBy(e.Key)
	changed = changed && !math.IsNaN(e.Value) && !old.Back(e.Value) && e.Key.Kind.Unit() != alert.Seconds
	if changed { // that alone ends it
		subject = words.Headline(words.Fine, s.place(e.Key), "within its new limit "+r.Clock(e.At))
	}
	still := s.still(e.Key)
	if still != nil {
		subject = words.Headline(said.Shape, s.place(e.Key), "safe again "+r.Clock(e.At)+", still "+said.Wrong)
	}
	fmt.Fprintf(&b, "%s\n%s from %s, for %s", subject, words.Was(string(e.Key.Kind)), r.When(e.Began, e.At), words.Span(e.At.Sub(e.Began)))
	if peaks(e.Key.Kind) {
		if peak := r.Value(said.Quantity, snapshot.OptFloat(e.Peak)); peak != "" {
			fmt.Fprintf(&b, ", %s %s", strings.ToLower(worst(e)), peak)
		}
	}
	if moved := s.moved(e.Key, e.Began); moved != "" {
		b.WriteString("; " + moved)
	}
	b.WriteString(".")
	if value := r.Value(said.Quantity, snapshot.OptFloat(e.Value)); value != "" && peaks(e.Key.Kind) {
		fmt.Fprintf(&b, " Now %s.", value)
	}
	b.WriteString("\n")
	if changed {
		fmt.Fprintf(&b, "The limit was changed from %s to %s meanwhile; by the one before it would still stand.\n",
			r.Value(said.Quantity, snapshot.OptFloat(old.At)), r.Value(said.Quantity, snapshot.OptFloat(e.Limit)))
	}
	if still != nil {
		fmt.Fprintf(&b, "It was past the safe %s; the wanted %s is not reached yet.\n", r.Temperature(e.Limit), r.Temperature(still.Limit.At))
	}
	if stake := s.stake(e.Key.Zone); stake != "" {
		b.WriteString(stake + "\n")
	}
	return subject, b.String()
}

// still is the warning that stands on where a safe limit's alarm ended; nil where
// none does.
func (s *Station) still(k alert.Key) *alert.Alarm {
	if k.Priority != alert.Critical || k.Kind != alert.TemperatureHigh && k.Kind != alert.TemperatureLow {
		return nil
	}
	k.Priority = alert.Warning
	if x, ok := s.panel.Alarm(k); ok && x.True {
		return &x
	}
	return nil
}

func sentence(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// peaks reports whether an alarm's worst value says more than its limit.
func peaks(k alert.Kind) bool {
	switch k {
	case alert.DriftUp, alert.DriftDown:
		return false
	}
	return k.Unit() != alert.Seconds && k.Unit() != alert.None
}

// figures are an event's value and limit in the reader's units. The limit goes
// without its unit beside a value that has it.
func (s *Station) figures(e alert.Event, said words.AlarmText) (value, limit string) {
	r := s.reader()
	value = r.Value(said.Quantity, snapshot.OptFloat(e.Value))
	switch said.Quantity {
	case words.Temperature:
		limit = r.Degrees(e.Limit)
	case words.Humidity:
		limit = r.Humidity(e.Limit)
	}
	return value, limit
}

// worst names an event's peak: of what is too low it is the lowest.
func worst(e alert.Event) string {
	if e.Key.Kind == alert.TemperatureLow || e.Key.Kind == alert.HumidityLow {
		return "Lowest"
	}
	return "Peak"
}

// level is a change, K an hour, that does not show in an hour.
const level = 0.05

func trendSentence(r words.Reader, perHour float64) string {
	switch {
	case math.IsNaN(perHour):
		return ""
	case math.Abs(perHour) < level:
		return "Steady."
	case perHour > 0:
		return "Rising " + r.PerHour(perHour) + "."
	}
	return "Falling " + r.PerHour(-perHour) + "."
}

// place is where an alarm is, for the subject.
func (s *Station) place(k alert.Key) string {
	switch {
	case k.Box != "":
		return "box " + k.Box
	case k.Kind == alert.BusSilent:
		return s.along(k.Part)
	case k.Part != "":
		return k.Part
	case k.Probe != "" && (k.Kind == alert.ProbeSilent || k.Kind == alert.HumiditySilent):
		return k.Zone + " " + k.Probe
	case k.Zone != "":
		return k.Zone
	}
	return s.plan.Name
}

// along is the zone that all probes of a bus are in, or the station where there are
// several.
func (s *Station) along(bus string) string {
	at := ""
	for _, p := range s.view.BusProbes(bus) {
		for _, z := range s.view.Zones {
			if !slices.Contains(z.Probes, p) {
				continue
			}
			if at != "" && at != z.Name {
				return s.plan.Name
			}
			at = z.Name
		}
	}
	return cmp.Or(at, s.plan.Name)
}

// named is how many boxes a message names.
const named = 6

// stake is what is in a zone: its boxes and eggs, and what is far along.
func (s *Station) stake(zone string) string {
	if zone == "" {
		return ""
	}
	boxes, clutches, far, eggs := map[string]bool{}, map[string]bool{}, map[string]bool{}, 0
	for _, g := range s.groups() {
		if g.Zone != zone || !g.Waiting {
			continue
		}
		boxes[g.Box], clutches[g.Clutch] = true, true
		eggs += g.Left()
		if w, ok := s.hatch(g); ok && w.Window.Developed >= 0.8 {
			far[g.Clutch] = true
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
	} else if len(names) <= named {
		text += " Boxes " + strings.Join(names, ", ") + "."
	}
	return text
}

// second is what another probe of the zone says, and whether it agrees.
func (s *Station) second(name, probe string, said words.AlarmText) string {
	z := s.zoneOf(name)
	if z == nil || said.Quantity != words.Temperature || len(z.probes) == 1 {
		return ""
	}
	first := s.probes[probe]
	for _, p := range z.probes {
		if p.Name == probe || !p.Fresh(s.now) || math.IsNaN(p.Celsius) {
			continue
		}
		text := fmt.Sprintf("Second probe (%s): %s", p.Name, s.reader().Temperature(p.Celsius))
		if first == nil {
			return text + "."
		}
		if math.Abs(p.Celsius-first.Celsius) <= zone.AgreesWithin {
			return text + " (agrees)."
		}
		return text + " (does not agree: look at both)."
	}
	return "No second probe answers."
}

func (s *Station) zoneOf(name string) *zoneState {
	for _, z := range s.zones {
		if z.plan.Name == name {
			return z
		}
	}
	return nil
}

func (s *Station) reader() words.Reader {
	return words.Reader{Units: s.plan.Units, Place: s.plan.Location, Today: func() time.Time { return s.now }}
}
