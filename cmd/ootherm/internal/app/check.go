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
	if _, err := buses(c.Probes, time.Now); err != nil {
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
	checkSenders(say, plan)
	if h := c.Station.Heartbeat; h == nil {
		say("Think of: there is no heartbeat, so a station that is dead goes unnoticed until somebody looks at the page: a night, or a week away. Mail needs the router; a power cut is told only from outside.")
	} else {
		say("A dead station goes unnoticed for %s and what the watcher of its heartbeat grants beyond that; set that to %s or so, and have it call somebody.", words.Span(h.Every), words.Span(2*h.Every))
	}
	return nil
}

// checkSenders says what to think of about who is told.
func checkSenders(say func(string, ...any), plan Plan) {
	backed := false
	for _, x := range plan.Senders {
		backed = backed || x.After > 0
		if x.After > 0 {
			say("%s gets a critical alarm that nobody has said they saw for %s.", x.Name, words.Span(x.After))
		}
	}
	if len(plan.Senders) > 0 && !backed {
		say(`Think of: if nobody wakes, nobody else is told. A sender with after = "15m" is: a neighbour, or a louder path.`)
	}
	if len(plan.Senders) > 0 && onlyAtHome(plan.URL) {
		say("The link in messages, %s, works at home alone; messages say so.", plan.URL)
	}
	for _, x := range plan.Senders {
		say("Try it: ootherm check --config FILE --send %q", x.Name)
	}
}
