package alert

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// Priority is how soon a person has to act.
type Priority string

// Priorities, most urgent first.
const (
	Critical Priority = "critical" // eggs are in danger now
	Warning  Priority = "warning"  // outside what is wanted
	Notice   Priority = "notice"   // to know, not to run
)

func (p Priority) valid() bool { return p.rank() >= 0 }

// rank is 0 for the most urgent, -1 for what is no priority.
func (p Priority) rank() int { return slices.Index([]Priority{Critical, Warning, Notice}, p) }

// State is where an alarm stands, in the words of ANSI/ISA-18.2 and OPC UA
// Part 9.
type State string

// States. An alarm that is hidden (the last three) goes on watching; when it is
// shown again its state is computed from the condition as it then is.
const (
	Normal       State = "normal"         // not true, nothing left to acknowledge
	Active       State = "active"         // true, not acknowledged
	Acknowledged State = "acknowledged"   // true, somebody did
	Returned     State = "returned"       // no longer true, not acknowledged
	Shelved      State = "shelved"        // hidden by a person, until a time
	Suppressed   State = "suppressed"     // hidden by logic, while a cause above it lasts
	OutOfService State = "out-of-service" // hidden for maintenance
)

// Kind is what an alarm is about.
type Kind string

// Kinds.
const (
	TemperatureHigh  Kind = "temperature-high"
	TemperatureLow   Kind = "temperature-low"
	HumidityHigh     Kind = "humidity-high"
	HumidityLow      Kind = "humidity-low"
	SingleEvent      Kind = "single-event" // one excursion lasted too long (WHO)
	Cumulative       Kind = "cumulative"   // all excursions together did (WHO)
	ProbeSilent      Kind = "probe-silent"
	HumidityFalling  Kind = "humidity-falling" // over days, towards its limit
	HumidityRising   Kind = "humidity-rising"
	HumiditySilent   Kind = "humidity-silent" // its temperature goes on
	ProbesDisagree   Kind = "probes-disagree"
	BusSilent        Kind = "bus-silent" // every probe of one bus
	DriftUp          Kind = "drift-up"
	DriftDown        Kind = "drift-down"
	RateOfChange     Kind = "rate-of-change"
	ClockUnverified  Kind = "clock-unverified"
	StorageFailing   Kind = "storage-failing"
	SenderFailing    Kind = "sender-failing"
	HeartbeatFailing Kind = "heartbeat-failing"
	CopyFailing      Kind = "copy-failing"    // the book does not leave the card
	HistoryDamaged   Kind = "history-damaged" // stored readings cannot be read
	StationRestarted Kind = "station-restarted"
	WindowOpening    Kind = "window-opening" // check daily from now on
	Hatching         Kind = "hatching"       // an egg of the clutch has pipped or hatched
	Late             Kind = "late"
	Drying           Kind = "drying"
	SwitchedOff      Kind = "switched-off" // what a person put out of service is so still
	AllWell          Kind = "all-well"     // the daily report; never raised, it only counts messages
)

// Kinds are the kinds of alarm that can be raised: all but [AllWell].
func Kinds() []Kind {
	return []Kind{
		TemperatureHigh, TemperatureLow, HumidityHigh, HumidityLow, SingleEvent, Cumulative, ProbeSilent,
		HumidityFalling, HumidityRising, HumiditySilent, ProbesDisagree, BusSilent, DriftUp, DriftDown, RateOfChange, ClockUnverified,
		StorageFailing, SenderFailing, HeartbeatFailing, CopyFailing, HistoryDamaged, StationRestarted, WindowOpening, Hatching, Late, Drying, SwitchedOff,
	}
}

// Unit is what the value of an alarm is measured in.
type Unit string

// Units. A kind without a unit is a condition: true is 1, false is 0, and
// neither is a value to show.
const (
	None           Unit = ""
	Celsius        Unit = "celsius"
	Ratio          Unit = "ratio"
	Seconds        Unit = "seconds"
	CelsiusPerHour Unit = "celsius-per-hour"
)

// Unit is the unit of the kind's value and limit.
func (k Kind) Unit() Unit {
	switch k {
	case TemperatureHigh, TemperatureLow, ProbesDisagree, DriftUp, DriftDown:
		return Celsius
	case HumidityHigh, HumidityLow:
		return Ratio
	case SingleEvent, Cumulative, ProbeSilent, BusSilent, SwitchedOff:
		return Seconds
	case RateOfChange:
		return CelsiusPerHour
	}
	return None
}

// IsDrift reports whether the kind tells that a limit will be passed.
func (k Kind) IsDrift() bool { return k == DriftDown || k == DriftUp }

// Key names one alarm. It is comparable, and its text stays the same over
// restarts: stored state and message identities hang on it.
type Key struct {
	Kind     Kind
	Priority Priority
	Zone     string
	Box      string
	Probe    string
	Clutch   string
	Part     string // of the station itself: a bus, a sender
}

// String is "kind.priority", then what it is about: "/zone", "/box:B1",
// "/probe:shelf", "/clutch:S1", "/part:mail". The characters / : and %, and control
// characters, are written %XX in names. [ParseKey] reads it back.
func (k Key) String() string {
	var b strings.Builder
	b.WriteString(string(k.Kind))
	b.WriteByte('.')
	b.WriteString(string(k.Priority))
	for _, p := range [...]struct{ tag, name string }{
		{"", k.Zone}, {"box:", k.Box}, {"probe:", k.Probe}, {"clutch:", k.Clutch}, {"part:", k.Part},
	} {
		if p.name != "" {
			b.WriteByte('/')
			b.WriteString(p.tag)
			b.WriteString(escape(p.name))
		}
	}
	return b.String()
}

// MarshalText writes the key as [Key.String] does.
func (k Key) MarshalText() ([]byte, error) { return []byte(k.String()), nil }

// UnmarshalText reads what [Key.String] wrote.
func (k *Key) UnmarshalText(b []byte) error {
	got, err := ParseKey(string(b))
	if err != nil {
		return err
	}
	*k = got
	return nil
}

// ParseKey reads what [Key.String] wrote, and nothing else.
func ParseKey(s string) (Key, error) {
	head, rest, more := strings.Cut(s, "/")
	kind, priority, ok := strings.Cut(head, ".")
	k := Key{Kind: Kind(kind), Priority: Priority(priority)}
	if !ok || kind == "" || !k.Priority.valid() {
		return Key{}, fmt.Errorf("%q is no alarm key: it begins with a kind, a dot and critical, warning or notice", s)
	}
	for more {
		var part string
		part, rest, more = strings.Cut(rest, "/")
		tag, name, tagged := strings.Cut(part, ":")
		if !tagged {
			tag, name = "", part
		}
		plain, err := unescape(name)
		if err != nil {
			return Key{}, fmt.Errorf("alarm key %q: %w", s, err)
		}
		switch tag {
		case "":
			k.Zone = plain
		case "box":
			k.Box = plain
		case "probe":
			k.Probe = plain
		case "clutch":
			k.Clutch = plain
		case "part":
			k.Part = plain
		default:
			return Key{}, fmt.Errorf("alarm key %q: %q is none of box, probe, clutch, part", s, tag)
		}
	}
	if k.String() != s { // out of order, twice, empty, or escaped otherwise
		return Key{}, fmt.Errorf("%q is no alarm key: its like is written %q", s, k)
	}
	return k, nil
}

func reserved(c byte) bool { return c == '/' || c == ':' || c == '%' || c < ' ' || c == 0x7f }

func escape(s string) string {
	var b strings.Builder
	for i := range len(s) {
		if reserved(s[i]) {
			fmt.Fprintf(&b, "%%%02X", s[i])
		} else {
			b.WriteByte(s[i])
		}
	}
	return b.String()
}

func unescape(s string) (string, error) {
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		if s[i] != '%' {
			b.WriteByte(s[i])
			continue
		}
		var c byte
		if i+2 >= len(s) {
			return "", errors.New("a % without two hexadecimal digits after it")
		}
		if _, err := fmt.Sscanf(s[i+1:i+3], "%02X", &c); err != nil {
			return "", errors.New("a % without two hexadecimal digits after it")
		}
		b.WriteByte(c)
		i += 2
	}
	return b.String(), nil
}
