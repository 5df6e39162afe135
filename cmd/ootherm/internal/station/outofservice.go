package station

import (
	"fmt"
	"strings"

	"example.com/ootherm/alert/panel"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// namedOff is how many alarms that are switched off are named.
const namedOff = 4

// offText says about what nobody is called.
func (s *Station) offText(o panel.OutOfService) string {
	what := o.Zone
	if !o.Whole {
		var names []string
		for _, k := range o.Keys[:min(len(o.Keys), namedOff)] {
			names = append(names, s.place(k)+" "+words.Alarm(string(k.Kind)).Wrong)
		}
		if more := len(o.Keys) - len(names); more > 0 {
			names = append(names, fmt.Sprintf("%d more", more))
		}
		what = strings.Join(names, ", ")
	}
	return fmt.Sprintf("Since %s nobody is called about %s.", s.reader().When(o.Since, s.now), what)
}

// offHeadline says in short what is switched off; empty where nothing is.
func offHeadline(outs []panel.OutOfService) string {
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
