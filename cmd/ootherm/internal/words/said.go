package words

import (
	"strings"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// Shapes go before a word, so that a state never hangs on colour alone.
const (
	Warm   = "▲"
	Cold   = "▼"
	Fine   = "●"
	Other  = "◆"
	Silent = "○"
)

// Quantity is what an alarm's value, limit and peak measure.
type Quantity int

// Quantities. Of Nothing no figure is shown: none is better than one in the
// wrong unit.
const (
	Nothing Quantity = iota
	Temperature
	Distance // between two temperatures
	Slope    // of a temperature, per hour
	Humidity
	Age
)

// Said is an alarm in words: its shape, what is wrong, what it measures, and
// what to do first.
type Said struct {
	Shape    string
	Wrong    string
	Quantity Quantity
	First    string
}

// Was says what was wrong, once it is over: "It was too cold".
func Was(kind string) string {
	switch kind {
	case "single-event", "cumulative":
		return "It was out of bounds"
	case "probe-silent":
		return "It gave nothing"
	case "humidity-silent":
		return "It gave no humidity"
	case "bus-silent":
		return "None of its probes answered"
	case "probes-disagree":
		return "Its probes disagreed"
	case "storage-failing":
		return "Readings were not saved"
	case "history-damaged":
		return "Some stored readings were damaged"
	case "sender-failing":
		return "Messages did not get out"
	}
	return "It was " + Alarm(kind).Wrong
}

// What a person does first, cheapest and safest first. Eggs are carried level
// and never turned: turning kills (common practice).
const (
	firstWarm     = "See that the heater is off, open the door. Carry boxes level if you must; never turn eggs."
	firstCold     = "Heater plugged in? Breaker? Thermostat? Warm slowly. Carry boxes level if you must; never turn eggs. Discard nothing tonight."
	firstRising   = "See now, while there is time, that the heater is not stuck on and no sun falls in; air the room."
	firstFalling  = "See now, while there is time, that the heater runs and that door and window are shut."
	firstFast     = "Look at heater, door and window now, while there is time."
	firstLong     = "See why it keeps leaving the band: heater, thermostat, door, sun."
	firstDry      = "Look at the boxes' lids and weigh one; water by weight, not by eye."
	firstWater    = "Weigh the box again if that was long ago. Water goes into the medium, lukewarm, never on the eggs; note it, then look at the lid."
	firstDamp     = "Air the room a little; see that no box stands in water."
	firstSilent   = "Look at its plug and cable. Where it is the only one, read a thermometer by hand meanwhile."
	firstNoDamp   = "Look at its plug and cable, and let it dry; if it stays so, replace it."
	firstBus      = "Look at the cable they share and at the station's plug; read a thermometer by hand meanwhile."
	firstDisagree = "Hold a thermometer you trust beside them; see that none lies on a heat mat or in the sun."
	firstStorage  = "Look at the card and the free space. What cannot be written waits in memory for an hour."
	firstClock    = "See that the station reaches a time server."
	firstSender   = "Look here by hand until messages get out again."
	firstCopy     = "See that the stick is in and has room. Nothing is lost while the card is well."
	firstDamaged  = "Nothing tonight. A card that damages readings is wearing out: see that the book is copied, and replace the card."
	firstRestart  = "Nothing, if you did it. Else look at its plug and supply."
	firstWindow   = "Look each day, lid open as briefly as you can. Do not turn or cut eggs."
	firstLate     = "Wait and look. Never cut an egg on the strength of a forecast."
	firstOff      = "Where the work is done, switch it on again: 'Back from work' on the page, or ootherm alarms --on ZONE."
	firstOther    = "Go and look."
)

// Alarm says an alarm by its kind. One that is not known is said as it stands.
func Alarm(kind string) Said {
	switch alert.Kind(kind) {
	case alert.TemperatureHigh:
		return Said{Warm, "too warm", Temperature, firstWarm}
	case alert.TemperatureLow:
		return Said{Cold, "too cold", Temperature, firstCold}
	case alert.DriftUp:
		return Said{Warm, "getting too warm", Temperature, firstRising}
	case alert.DriftDown:
		return Said{Cold, "getting too cold", Temperature, firstFalling}
	case alert.SingleEvent:
		return Said{Other, "out of band too long at a stretch", Age, firstLong}
	case alert.Cumulative:
		return Said{Other, "out of band too long in all", Age, firstLong}
	case alert.RateOfChange:
		return Said{Other, "changing too fast", Slope, firstFast}
	case alert.HumidityLow:
		return Said{Other, "too dry", Humidity, firstDry}
	case alert.HumidityHigh:
		return Said{Other, "too damp", Humidity, firstDamp}
	case alert.Drying:
		return Said{Other, "drying out", Nothing, firstWater}
	case alert.ProbeSilent:
		return Said{Silent, "probe silent", Age, firstSilent}
	case alert.HumiditySilent:
		return Said{Silent, "gives no humidity", Nothing, firstNoDamp}
	case alert.BusSilent:
		return Said{Silent, "all probes of one bus silent", Age, firstBus}
	case alert.ProbesDisagree:
		return Said{Other, "probes disagree", Distance, firstDisagree}
	case alert.SwitchedOff:
		return Said{Other, "switched off for work", Age, firstOff}
	case alert.ClockUnverified:
		return Said{Other, "time of day not known", Nothing, firstClock}
	case alert.StorageFailing:
		return Said{Other, "readings not saved", Nothing, firstStorage}
	case alert.SenderFailing:
		return Said{Other, "messages do not get out", Nothing, firstSender}
	case alert.CopyFailing:
		return Said{Other, "the book is not copied", Nothing, firstCopy}
	case alert.HistoryDamaged:
		return Said{Other, "some stored readings are damaged", Nothing, firstDamaged}
	case alert.StationRestarted:
		return Said{Other, "station restarted", Nothing, firstRestart}
	case alert.WindowOpening:
		return Said{Other, "time to look for hatchlings", Nothing, firstWindow}
	case alert.Late:
		return Said{Other, "late", Nothing, firstLate}
	}
	return Said{Other, strings.ReplaceAll(kind, "-", " "), Nothing, firstOther}
}

// Value says a figure of an alarm in what the alarm measures; nothing where
// there is no figure, or none that could be said.
func (r Reader) Value(q Quantity, v *float64) string {
	if v == nil {
		return ""
	}
	switch q {
	case Temperature:
		return r.Temperature(*v)
	case Distance:
		return r.Difference(*v)
	case Slope:
		return r.PerHour(*v)
	case Humidity:
		return r.Humidity(*v)
	case Age:
		return Span(Seconds(*v))
	}
	return ""
}

// Place is what an alarm is about: a part of the station, its box, else its zone, with the probe where
// one is named; "the station" when it is none of these.
func Place(a snapshot.Alarm) string {
	s := "the station"
	switch {
	case a.Part != nil:
		return *a.Part
	case a.Box != nil && a.Clutch != nil:
		s = "box " + *a.Box + ", " + *a.Clutch
	case a.Box != nil:
		s = "box " + *a.Box
	case a.Zone != nil:
		s = *a.Zone
	case a.Probe != nil:
		return "probe " + *a.Probe
	}
	if a.Probe != nil {
		s += ", probe " + *a.Probe
	}
	return s
}

// State says the state of an alarm. A quiet one ends by itself at until; pass
// the zero time when that is not known. The state normal is no alarm.
func (r Reader) State(state string, until, at time.Time) string {
	switch state {
	case "active":
		return "not yet seen"
	case "acknowledged":
		return "seen"
	case "returned":
		return "back in band, not yet seen"
	case "shelved":
		if until.IsZero() {
			return "quiet for a while"
		}
		return "quiet until " + r.When(until, at)
	case "suppressed":
		return "part of a wider alarm"
	case "out-of-service":
		return "switched off for work"
	case "normal", "":
		return "in order"
	}
	return state
}

// Priority says how soon a person is needed.
func Priority(priority string) string {
	switch priority {
	case "critical":
		return "critical: go now"
	case "warning":
		return "warning: look today"
	case "notice":
		return "notice: no hurry"
	}
	return priority
}

// Probe says the state of a probe, and why where it is known.
func Probe(p snapshot.Probe) string {
	var s string
	switch p.Status {
	case "ok":
		return "ok"
	case "suspect":
		s = "not believed"
	case "stale":
		s = "silent"
	case "missing":
		s = "never answered"
		if p.LastGood != nil || p.AgeSeconds != nil {
			s = "gone"
		}
	default:
		s = p.Status
	}
	if p.Cause != nil && *p.Cause != "" {
		s += ": " + Cause(*p.Cause)
	}
	return s
}

// Cause says why a reading is not believed.
func Cause(cause string) string {
	switch cause {
	case "no-answer":
		return "it does not answer"
	case "bad-frame":
		return "its answers are garbled"
	case "clock-ahead":
		return "its device's clock is ahead of this one, so nobody knows how old its values are"
	case "power-on":
		return "it gives the figure it wakes up with"
	case "bus-gone":
		return "its whole bus does not answer"
	case "range":
		return "more than the part can measure"
	case "humidity":
		return "it gives a humidity that cannot be"
	case "recovering":
		return "in order again, and believed at the third good reading"
	case "stuck":
		return "the same figure for too long"
	case "jump":
		return "it jumped faster than air can"
	case "disagrees":
		return "it disagrees with its neighbours"
	}
	return strings.ReplaceAll(cause, "-", " ")
}

// Fate says what became of an egg.
func Fate(fate string) string {
	if fate == "" {
		return Unknown
	}
	return fate
}
