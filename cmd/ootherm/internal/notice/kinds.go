package notice

import (
	"fmt"
	"math"
	"slices"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/episode"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// sharing is which events of one step share a message. All begin, or all end.
type sharing int

const (
	alone        sharing = iota
	sharesKind           // all of one kind
	sharesZone           // those of one kind in one zone
	sharesChange         // every sign of a fast change in one zone
)

// text is what one kind of alarm says in its own way.
type text struct {
	shares   sharing
	worst    string // names its worst value; empty: that says no more than its limit
	refuge   string // where a person carries the eggs; empty: they stay
	drift    bool   // it tells of what comes
	silence  bool   // it began with the last reading
	headline func(*composer, alert.Event, *head)
	detail   func(*composer, alert.Event) []string // nil: it has none
	also     func(*composer, alert.Key) string     // its line in another's message; nil: the headline
}

// textOf is the row of a kind. A kind that has none says what [words.Alarm] has of it. Its
// shape, its words and what to do first are there, as the page shows them too.
func textOf(k alert.Kind) text {
	switch k {
	case alert.TemperatureHigh:
		return text{shares: sharesZone, worst: "Peak", refuge: "a cooler room", headline: withLimit}
	case alert.TemperatureLow:
		return text{shares: sharesZone, worst: "Lowest", refuge: "a warmer room", headline: withLimit}
	case alert.HumidityHigh:
		return text{shares: sharesZone, worst: "Peak", headline: withLimit}
	case alert.HumidityLow:
		return text{shares: sharesZone, worst: "Lowest", headline: withLimit}
	case alert.DriftUp, alert.DriftDown:
		return text{shares: sharesChange, drift: true, headline: driftHeadline, detail: driftDetail}
	case alert.RateOfChange:
		return text{shares: sharesChange, worst: "Peak", headline: rateHeadline, detail: rateDetail}
	case alert.SingleEvent:
		return text{shares: sharesZone, headline: outOfBounds("for ", ""), detail: exposureDetail, also: exposureLine}
	case alert.Cumulative:
		return text{shares: sharesZone, headline: outOfBounds("", " in all"), detail: exposureDetail, also: exposureLine}
	case alert.ProbeSilent:
		return text{shares: sharesKind, silence: true, headline: silenceHeadline}
	case alert.BusSilent:
		return text{silence: true, headline: busHeadline, detail: busDetail}
	case alert.HumidityFalling, alert.HumidityRising:
		return text{shares: sharesKind, headline: humidityTrendHeadline, detail: humidityTrendDetail}
	case alert.HumiditySilent:
		return text{shares: sharesKind, headline: plain, detail: humiditySilentDetail}
	case alert.ProbesDisagree:
		return text{worst: "Peak", headline: plain, detail: disagreeDetail}
	case alert.Drying:
		return text{shares: sharesKind, headline: dryHeadline, detail: dryDetail}
	case alert.WindowOpening:
		return text{shares: sharesKind, headline: checkDailyHeadline, detail: windowDetail}
	case alert.Hatching:
		return text{shares: sharesKind, headline: hatchingHeadline, detail: windowDetail}
	case alert.Late:
		return text{shares: sharesKind, headline: plain, detail: windowDetail}
	case alert.SwitchedOff:
		return text{headline: offEventHeadline, detail: offDetail}
	case alert.StorageFailing:
		return text{headline: storageHeadline}
	case alert.StationRestarted:
		return text{headline: restartHeadline, detail: restartDetail}
	case alert.ClockUnverified:
		return text{headline: plain, detail: clockDetail}
	case alert.SenderFailing:
		return text{headline: plain, detail: senderDetail}
	case alert.HeartbeatFailing:
		return text{headline: plain, detail: heartbeatDetail}
	case alert.CopyFailing:
		return text{headline: plain, detail: copyDetail}
	case alert.HistoryDamaged:
		return text{headline: plain, detail: damageDetail}
	}
	return text{}
}

func (t text) details(c *composer, e alert.Event) []string {
	if t.detail == nil {
		return nil
	}
	return t.detail(c, e)
}

// head is the parts of a subject: the shape, what is wrong with its value, and what follows.
type head struct {
	shape, wrong, value, after string
}

// headline is the key fact of what is told, for the subject. What is critical says so.
func (c *composer) headline(t episode.Told) string {
	e, said := t.Event, words.Alarm(string(t.Key.Kind))
	h := head{shape: said.Shape, wrong: said.Wrong, value: c.value(said, e.Value)}
	if f := textOf(e.Key.Kind).headline; f != nil {
		f(c, e, &h)
	}
	left := t.SafeAt.Sub(t.At)
	if x := c.Alarms[t.Key].Drift; left <= 0 && x != nil {
		left = x.About.Sub(t.At)
	}
	if left > 0 && priorityOf(t) == alert.Critical && t.Key.Kind.Side() != "" {
		h.says(words.Alarm(string(t.Key.Kind.Side().Kind())).Wrong + " in " + words.Span(left))
		h.after = stageText{c}.limits(t)
	}
	if h.value != "" {
		h.wrong += ": " + h.value
	}
	return words.Subject(shapeOf(t, h.shape), c.place(e.Key), h.wrong) + h.after
}

// limits are the safe limit that is passed soon and the present value, in brackets.
func (c stageText) limits(t episode.Told) string {
	x, limit, value := c.Alarms[t.Key], t.Limit, c.present(t)
	for _, coming := range []*snapshot.Coming{x.SafeLimit, x.Drift} {
		if coming != nil {
			limit = coming.Limit
			break
		}
	}
	text := " (limit " + c.r.Degrees(limit)
	if !math.IsNaN(value) {
		text += ", now " + c.r.Temperature(value)
	}
	return text + ")"
}

// present is the present value; the value of a drift's event is the limit that it foretells.
func (c stageText) present(t episode.Told) float64 {
	if textOf(t.Key.Kind).drift {
		return c.extreme(t.Key)
	}
	return t.Value
}

// plain leaves what is wrong and the value as they are.
func plain(*composer, alert.Event, *head) {}

// says puts another text in the place of what is wrong and of its value.
func (h *head) says(wrong string) { h.wrong, h.value = wrong, "" }

func withLimit(c *composer, e alert.Event, h *head) {
	if recovering(e) {
		h.wrong = "was " + h.wrong
		if since := c.Alarms[e.Key].Clearing; !since.IsZero() {
			h.wrong += " until " + c.r.Clock(since)
		}
		h.value = "now " + h.value
	}
	said := words.Alarm(string(e.Key.Kind))
	if h.value == c.value(said, e.Limit) { // the figures are rounded
		h.value = map[bool]string{true: "above ", false: "below "}[e.Value > e.Limit] + h.value
		return
	}
	h.after = " (limit " + c.limit(e, said) + ")"
}

func driftHeadline(c *composer, e alert.Event, h *head) {
	if x := c.Alarms[e.Key].Drift; x != nil {
		h.value += " " + c.r.Clock(x.About)
	}
}

func rateHeadline(c *composer, e alert.Event, h *head) {
	h.shape, h.wrong = words.Warm, "rising fast"
	if z := c.zone(e.Key.Zone); z != nil && z.TrendKPerHour < 0 {
		h.shape, h.wrong = words.Cold, "falling fast"
	}
}

func outOfBounds(before, after string) func(*composer, alert.Event, *head) {
	return func(_ *composer, _ alert.Event, h *head) { h.says("out of bounds " + before + h.value + after) }
}

// silenceHeadline counts what went before a start too.
func silenceHeadline(_ *composer, e alert.Event, h *head) { h.value = words.Span(e.At.Sub(e.Began)) }

func busHeadline(c *composer, e alert.Event, h *head) {
	h.says(fmt.Sprintf("all %d probes silent", len(c.Buses[e.Key.Part])))
}

func checkDailyHeadline(c *composer, e alert.Event, h *head) {
	if !e.ReAlarm {
		h.says(h.wrong + " from today")
	}
}

// hatchingHeadline says which egg came, and which to look at.
func hatchingHeadline(c *composer, e alert.Event, h *head) {
	x := c.clutch(e.Key, snapshot.StateHatching)
	if x == nil || x.Last == "" {
		return
	}
	did := x.Last + " pipped"
	if x.LastHatched {
		did = x.Last + " hatched"
	}
	others := slices.DeleteFunc(slices.Clone(x.Eggs), func(egg string) bool { return egg == x.Last })
	switch n := len(others); {
	case n == 0:
		h.says(did + ": look at it now")
	case n <= maxNamedEggs:
		h.says(did + ": look at " + words.List(others) + " now")
	default:
		h.says(did + ": look at " + words.Count(n, "egg", "eggs") + " now")
	}
}

func offEventHeadline(c *composer, e alert.Event, h *head) {
	o := c.outOfService(e.Key.Zone)
	if e.Key.Priority == alert.Critical {
		h.says(UnsafeOutOfService(o, c.r, c.Now))
		if o.Side != "" {
			h.shape = words.Alarm(string(o.Side)).Shape
		}
		return
	}
	if !o.Whole {
		h.wrong = "partly off for work"
	}
}

func restartHeadline(c *composer, _ alert.Event, h *head) { h.says("was off for " + words.Span(c.Off)) }
