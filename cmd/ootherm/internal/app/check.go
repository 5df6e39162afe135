package app

import (
	"fmt"
	"io"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/app/words"
	"example.com/ootherm/cmd/ootherm/internal/config"
)

// Check says what a configuration comes to, and what to think of. All that is
// wrong with it is the error.
func Check(w io.Writer, path string) error {
	c, err := config.Load(path)
	if err != nil {
		return err
	}
	plan, err := PlanOf(c)
	if err != nil {
		return err
	}
	if _, err := buses(c.Probes); err != nil {
		return err
	}
	if _, err := routes(c, plan, time.Now); err != nil {
		return err
	}
	if err := guarded(c); err != nil {
		return err
	}
	say := func(format string, a ...any) { fmt.Fprintf(w, format+"\n", a...) }
	say("%s is in order.", path)
	say("%s, %s, %s; a poll every %s; the page at %s.", words.Count(len(plan.Zones), "zone", "zones"),
		words.Count(len(plan.Probes), "probe", "probes"), words.Count(len(plan.Senders), "sender", "senders"), words.Span(plan.Every), c.Station.Listen)
	for _, z := range plan.Zones {
		if z.Wanted == nil && z.Safe == nil {
			say("Think of: %s has no wanted band, so it warns of nothing; its safe band is that of the eggs in it.", z.Name)
		}
	}
	if len(plan.Senders) == 0 {
		say("Think of: there is no sender, so an alarm shows on the page and nowhere else.")
	}
	if c.Station.Heartbeat == nil {
		say("Think of: there is no heartbeat, so a station that is dead goes unnoticed until somebody looks. Mail needs the router; a power cut is told only from outside.")
	} else {
		say("A dead station is noticed by whoever watches for its heartbeat, which comes every %s.", words.Span(c.Station.Heartbeat.Every))
	}
	return nil
}
