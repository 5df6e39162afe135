package words

import (
	"strings"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// Shapes stand before the text of a state, so that a state never depends on colour alone.
const (
	Warm   = "▲"
	Cold   = "▼"
	Fine   = "●"
	Other  = "◆"
	Silent = "○"
)

// Quantity is the quantity of an alarm's value, limit and peak.
type Quantity int

// Quantities. The figures of Nothing are not shown.
const (
	Nothing Quantity = iota
	Temperature
	Distance // between two temperatures, kelvin
	Slope    // of a temperature, kelvin per hour
	Humidity
	Age // seconds
)

// AlarmText is the text of one kind of alarm.
type AlarmText struct {
	Shape    string
	Wrong    string // the fault
	Quantity Quantity
	First    string // what a person does first
}

// Was names the fault of an alarm that is over: "It was too cold".
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
	case "heartbeat-failing":
		return "The heartbeat did not get out"
	case "window-opening":
		return "It was to be checked daily"
	}
	return "It was " + Alarm(kind).Wrong
}

// What a person does first, the cheapest and safest step at the beginning. Eggs are carried
// level and never turned, because turning kills (common practice).
const (
	firstWarm      = "See that the heater is off, open the door. Carry boxes level if you must; never turn eggs."
	firstCold      = "Heater plugged in? Breaker? Thermostat? Warm slowly. Carry boxes level if you must; never turn eggs. Discard nothing tonight."
	firstRising    = "Check now that the heater is not stuck on and no sun falls in; air the room."
	firstFalling   = "Check now that the heater runs and that door and window are shut."
	firstFast      = "Look at heater, door and window now, while there is time."
	firstLong      = "See why it keeps leaving the band: heater, thermostat, door, sun."
	firstDry       = "Look at the boxes' lids and weigh one; water by weight, not by eye."
	firstWater     = "Weigh the box again if that was long ago. Water goes into the medium, lukewarm, never on the eggs; note it, then look at the lid."
	firstDamp      = "Air the room a little; see that no box stands in water."
	firstSilent    = "Look at its plug and cable. Where it is the only one, read a thermometer by hand meanwhile."
	firstNoDamp    = "Look at its plug and cable, and let it dry; if it stays so, replace it."
	firstBus       = "Look at the cable they share and at the station's plug; read a thermometer by hand meanwhile."
	firstDisagree  = "Hold a thermometer you trust beside them; see that none lies on a heat mat or in the sun."
	firstStorage   = "Look at the card and the free space. What cannot be written waits in memory for an hour."
	firstClock     = "See that the station reaches a time server."
	firstSender    = "Look here by hand until messages get out again."
	firstHeartbeat = "See that the station reaches the internet, and that the address is right: ootherm check calls it. Until it gets out, a dead station goes unnoticed."
	firstCopy      = "See that the stick is in and has room. Nothing is lost while the card is well."
	firstDamaged   = "Nothing tonight. A card that damages readings is wearing out: see that the book is copied, and replace the card."
	firstRestart   = "Nothing, if you did it. Else look at its plug and supply."
	firstWindow    = "Look each day, lid open as briefly as you can. Do not turn or cut eggs."
	firstHatching  = "Look now, lid open as briefly as you can. Do not turn, pull or cut eggs."
	firstLate      = "Wait and look. Never cut an egg on the strength of a forecast."
	firstOff       = "When the work is done, press 'Turn it on again' on the page, or type ootherm alarms --on ZONE."
	firstOther     = "Go and look."
)

// Alarm gives the text of a kind of alarm. The text of an unknown kind is its name.
func Alarm(kind string) AlarmText {
	switch alert.Kind(kind) {
	case alert.TemperatureHigh:
		return AlarmText{Warm, "too warm", Temperature, firstWarm}
	case alert.TemperatureLow:
		return AlarmText{Cold, "too cold", Temperature, firstCold}
	case alert.DriftUp:
		return AlarmText{Warm, "getting too warm", Temperature, firstRising}
	case alert.DriftDown:
		return AlarmText{Cold, "getting too cold", Temperature, firstFalling}
	case alert.SingleEvent:
		return AlarmText{Other, "out of band too long at a stretch", Age, firstLong}
	case alert.Cumulative:
		return AlarmText{Other, "out of band too long in all", Age, firstLong}
	case alert.RateOfChange:
		return AlarmText{Other, "changing too fast", Slope, firstFast}
	case alert.HumidityLow:
		return AlarmText{Other, "too dry", Humidity, firstDry}
	case alert.HumidityHigh:
		return AlarmText{Other, "too damp", Humidity, firstDamp}
	case alert.HumidityFalling:
		return AlarmText{Other, "getting too dry", Nothing, firstDry}
	case alert.HumidityRising:
		return AlarmText{Other, "getting too damp", Nothing, firstDamp}
	case alert.Drying:
		return AlarmText{Other, "drying out", Nothing, firstWater}
	case alert.ProbeSilent:
		return AlarmText{Silent, "probe silent", Age, firstSilent}
	case alert.HumiditySilent:
		return AlarmText{Silent, "gives no humidity", Nothing, firstNoDamp}
	case alert.BusSilent:
		return AlarmText{Silent, "all probes of one bus silent", Age, firstBus}
	case alert.ProbesDisagree:
		return AlarmText{Other, "probes disagree", Distance, firstDisagree}
	case alert.SwitchedOff:
		return AlarmText{Other, "switched off for work", Age, firstOff}
	case alert.ClockUnverified:
		return AlarmText{Other, "time of day not known", Nothing, firstClock}
	case alert.StorageFailing:
		return AlarmText{Other, "readings not saved", Nothing, firstStorage}
	case alert.SenderFailing:
		return AlarmText{Other, "messages do not get out", Nothing, firstSender}
	case alert.HeartbeatFailing:
		return AlarmText{Other, "heartbeat does not get out", Nothing, firstHeartbeat}
	case alert.CopyFailing:
		return AlarmText{Other, "the book is not copied", Nothing, firstCopy}
	case alert.HistoryDamaged:
		return AlarmText{Other, "some stored readings are damaged", Nothing, firstDamaged}
	case alert.StationRestarted:
		return AlarmText{Other, "station restarted", Nothing, firstRestart}
	case alert.WindowOpening:
		return AlarmText{Other, "check daily", Nothing, firstWindow}
	case alert.Hatching:
		return AlarmText{Other, "hatching", Nothing, firstHatching}
	case alert.Late:
		return AlarmText{Other, "late", Nothing, firstLate}
	}
	return AlarmText{Other, strings.ReplaceAll(kind, "-", " "), Nothing, firstOther}
}

// Value formats a figure of an alarm in its quantity. It is empty where there is no figure
// or no quantity.
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

// Place names the place of an alarm: a part of the station, its box, or else its zone, with
// the probe where there is one. Without any of these it is "the station".
func Place(a snapshot.AlarmPlace) string {
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

// State describes the state of an alarm. until is the end of a shelved alarm's quiet; the
// zero time means that it is not known.
func (r Reader) State(state string, until, at time.Time) string {
	switch state {
	case "active":
		return "not yet seen"
	case "acknowledged":
		return "seen"
	case "returned":
		return "over, not yet seen"
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

// Priority says how soon a person must act.
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

// Urgency says how soon a person must act on an alarm: what is on its way does not wait for the
// day.
func Urgency(a snapshot.Alarm) string {
	if a.Priority == "warning" && a.Coming != nil {
		return "warning: look soon"
	}
	return Priority(a.Priority)
}

// Probe describes the state of a probe, with the cause where it is known.
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

// Cause describes why a reading is not believed.
func Cause(cause string) string {
	switch cause {
	case "no-answer":
		return "it does not answer"
	case "bad-frame":
		return "its answers are garbled"
	case "clock-ahead":
		return "its device's clock is ahead of this one, so the age of its values is not known"
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

// Fate gives the fate of an egg, or Unknown.
func Fate(fate string) string {
	if fate == "" {
		return Unknown
	}
	return fate
}
