package notice

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// composer makes the texts of one step.
type composer struct {
	Facts
	r words.Reader
}

// Compose makes the messages of a step, one for each cause, in the order of the events. The
// messages have neither an identity nor a sender yet.
func Compose(events []alert.Event, f Facts, r words.Reader) []alert.Message {
	c := &composer{f, r}
	var all []alert.Message
	for _, b := range alert.Bundles(events, c.cause) {
		m := c.message(b.Events[0])
		if len(b.Events) > 1 {
			m = c.together(m, b.Events)
		}
		all = append(all, m)
	}
	return all
}

// cause is what events of one step have in common; an event without one has a message of
// its own.
func (c *composer) cause(e alert.Event) string {
	if e.Gone {
		return "gone"
	}
	end := "begins"
	if e.To != alert.Active {
		end = "ends"
	}
	switch k := e.Key; textOf(k.Kind).shares {
	case sharesKind:
		return string(k.Kind) + end
	case sharesZone:
		return string(k.Kind) + " in " + cmp.Or(k.Zone, c.Alarms[k].Zone) + end
	case sharesChange:
		return "change in " + k.Zone + end
	}
	return ""
}

// message is the message of an event: what is wrong, where, since when, what is at risk, what
// to do first, and when the next message comes.
func (c *composer) message(e alert.Event) alert.Message {
	m := alert.Message{At: e.At, Priority: e.Key.Priority, Alarm: e.Key.String(), Threads: []alert.Thread{threadOf(c, e)}}
	if e.To == alert.Active {
		m.Subject, m.Body = c.raised(e)
		return m
	}
	m.Over = true
	m.Subject, m.Body = c.ended(e)
	return m
}

// together adds the other events of its cause to the message of the first.
func (c *composer) together(m alert.Message, events []alert.Event) alert.Message {
	first, rest, _ := strings.Cut(m.Body, "\n")
	var b strings.Builder
	fmt.Fprintf(&b, "%s\nAlso:\n", first)
	for _, e := range events[1:] {
		fmt.Fprintf(&b, "  %s (%s)\n", c.alsoLine(e), e.Key.Priority)
		if t := threadOf(c, e); !slices.ContainsFunc(m.Threads, func(x alert.Thread) bool { return x.ID == t.ID }) {
			m.Threads = append(m.Threads, t)
		}
	}
	if n := len(events) - 1; n == 1 {
		m.Subject += ", and one more"
	} else {
		m.Subject += fmt.Sprintf(", and %d more", n)
	}
	m.Body = b.String() + rest
	return m
}

// alsoLine is an event in one line of another's message.
func (c *composer) alsoLine(e alert.Event) string {
	said := words.Alarm(string(e.Key.Kind))
	switch {
	case e.To == alert.Active && textOf(e.Key.Kind).also != nil:
		return textOf(e.Key.Kind).also(c, e.Key)
	case e.Gone:
		return retiredHeadline(c.place(e.Key), said)
	case e.To != alert.Active:
		return strings.TrimSpace(words.Fine + " " + c.place(e.Key) + " " + said.Wrong + ": over")
	}
	return c.headline(e)
}
