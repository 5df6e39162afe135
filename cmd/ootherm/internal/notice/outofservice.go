package notice

import (
	"fmt"
	"strings"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// maxNamedOff is how many alarms that are switched off a message names (our choice).
const maxNamedOff = 4

// outOfService is what is out of service in a zone; without a zone, of the station itself.
func (c *composer) outOfService(zone string) OutOfService {
	for _, o := range c.OutOfService {
		if o.Zone == zone {
			return o
		}
	}
	return OutOfService{}
}

func offDetail(c *composer, e alert.Event) []string {
	o := c.outOfService(e.Key.Zone)
	if e.Key.Priority != alert.Critical {
		return []string{c.offText(o)}
	}
	return []string{c.offText(o), offUnsafe(o)}
}

// offText names what is out of service, and since when.
func (c *composer) offText(o OutOfService) string {
	what := o.Zone
	if !o.Whole {
		var names []string
		for _, k := range o.Keys[:min(len(o.Keys), maxNamedOff)] {
			names = append(names, c.place(k)+" "+words.Alarm(string(k.Kind)).Wrong)
		}
		if more := len(o.Keys) - len(names); more > 0 {
			names = append(names, fmt.Sprintf("%d more", more))
		}
		what = strings.Join(names, ", ")
	}
	text := fmt.Sprintf("Since %s nobody is called about %s.", c.r.When(o.Since, c.Now), what)
	switch {
	case o.Silent:
		return text + " No probe gives its temperature now."
	case o.Celsius == nil:
		return text
	}
	text += " It is " + c.r.Temperature(*o.Celsius) + " there now"
	if o.Side != "" {
		text += ", " + words.Alarm(string(o.Side)).Wrong
	}
	if o.Safe != nil {
		text += "; the safe limit is " + c.r.Temperature(*o.Safe)
	}
	return text + "."
}

// UnsafeOutOfService says what a zone is now that is past a safe limit out of service: "70.0 °F,
// too cold, alarm off since 05:56".
func UnsafeOutOfService(o OutOfService, r words.Reader, now time.Time) string {
	text := "alarm off since " + r.When(o.Since, now)
	if o.Side != "" {
		text = words.Alarm(string(o.Side)).Wrong + ", " + text
	}
	if o.Celsius != nil {
		text = r.Temperature(*o.Celsius) + ", " + text
	}
	return text
}

// offUnsafe is what to do for eggs where the alarm is off.
func offUnsafe(o OutOfService) string {
	if o.Side == "" {
		return ""
	}
	return "Look now: " + words.Alarm(string(o.Side)).First
}

// safeAgain tells that a zone whose alarm is off is no longer past its safe limit.
func (c *composer) safeAgain(e alert.Event) (subject, body string) {
	subject = words.Subject(words.Fine, c.place(e.Key), "safe again "+c.r.Clock(e.At)+", alarm still off")
	return subject, fmt.Sprintf("It was past its safe limit from %s, for %s.\n%s\n",
		c.r.When(e.Began, e.At), words.Span(e.At.Sub(e.Began)), c.offText(c.outOfService(e.Key.Zone)))
}

// offHeadline says in short what is switched off; empty where nothing is.
func offHeadline(outs []OutOfService) string {
	var whole, partly []string
	for _, o := range outs {
		switch {
		case o.Whole:
			whole = append(whole, o.Zone)
		case o.Zone == "":
			partly = append(partly, "the station")
		default:
			partly = append(partly, o.Zone)
		}
	}
	switch {
	case len(whole) == 1:
		return "switched off: " + whole[0]
	case len(whole) > 1:
		return fmt.Sprintf("switched off: %d zones", len(whole))
	case len(partly) == 1:
		return "partly off: " + partly[0]
	case len(partly) > 1:
		return fmt.Sprintf("partly off: %d places", len(partly))
	}
	return ""
}
