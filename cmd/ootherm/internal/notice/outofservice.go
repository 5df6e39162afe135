package notice

import (
	"fmt"
	"strings"

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
	return []string{c.offText(c.outOfService(e.Key.Zone))}
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
	return fmt.Sprintf("Since %s nobody is called about %s.", c.r.When(o.Since, c.Now), what)
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
