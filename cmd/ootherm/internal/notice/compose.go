package notice

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/episode"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// composer makes the texts of one step.
type composer struct {
	Facts
	r words.Reader
}

// Compose makes the messages of a step, one for each cause, in the order of what is told. The
// messages have neither an identity nor a sender yet.
func Compose(told []episode.Told, f Facts, r words.Reader) []alert.Message {
	c := &composer{f, r}
	var all []alert.Message
	for _, b := range bundlesOf(c, told) {
		m := c.message(b[0])
		if len(b) > 1 {
			m = c.together(m, b)
		}
		all = append(all, m)
	}
	return all
}

// bundlesOf puts together what has one cause, in the order in which the causes appear; the most
// urgent of each first. What has no cause is alone.
func bundlesOf(c *composer, told []episode.Told) (all [][]episode.Told) {
	var causes []string
	for _, t := range told {
		cause := c.cause(t)
		i := slices.Index(causes, cause)
		if i < 0 || cause == "" {
			i = len(all)
			causes, all = append(causes, cause), append(all, nil)
		}
		all[i] = append(all[i], t)
	}
	for _, b := range all {
		slices.SortStableFunc(b, func(x, y episode.Told) int {
			return cmp.Compare(rank(priorityOf(x)), rank(priorityOf(y)))
		})
	}
	return all
}

// rank is 0 for the most urgent priority.
func rank(p alert.Priority) int {
	return slices.Index([]alert.Priority{alert.Critical, alert.Warning, alert.Notice}, p)
}

// cause is what several have in common that are told in one step; what has none has a message
// of its own.
func (c *composer) cause(t episode.Told) string {
	if t.Gone {
		return "gone"
	}
	stage := "begins"
	switch {
	case t.Stage == episode.ComesAndGoes || t.Stage == episode.Holds:
		stage = string(t.Stage)
	case t.To != alert.Active:
		stage = "ends"
	}
	switch k := t.Key; textOf(k.Kind).shares {
	case sharesKind:
		return string(k.Kind) + stage
	case sharesZone:
		return string(k.Kind) + " in " + cmp.Or(k.Zone, c.Alarms[k].Zone) + stage
	case sharesChange:
		return "change in " + k.Zone + stage
	}
	return ""
}

// message tells of one stage or event: what is wrong, where, since when, what is at risk, what
// to do first, and when the next message comes.
func (c *composer) message(t episode.Told) alert.Message {
	m := alert.Message{At: t.At, Priority: priorityOf(t), Alarm: t.Key.String(), Threads: []alert.Thread{threadOf(c, t)}}
	switch {
	case t.Stage == episode.ComesAndGoes:
		m.Subject, m.Body = stageText{c}.comesAndGoes(t)
	case t.To != alert.Active:
		m.Over = true
		if t.Stage == episode.Over { // it ended a while ago
			m.At = c.Now
		}
		m.Subject, m.Body = c.ended(t)
	case t.Stage == episode.Holds:
		m.Subject, m.Body = stageText{c}.holds(t)
	default:
		m.Subject, m.Body = c.raised(t)
	}
	return m
}

// together adds the others of its cause to the message of the first.
func (c *composer) together(m alert.Message, told []episode.Told) alert.Message {
	first, rest, _ := strings.Cut(m.Body, "\n")
	var b strings.Builder
	fmt.Fprintf(&b, "%s\nAlso:\n", first)
	for _, t := range told[1:] {
		fmt.Fprintf(&b, "  %s (%s)\n", c.alsoLine(t), priorityOf(t))
		if x := threadOf(c, t); !slices.ContainsFunc(m.Threads, func(y alert.Thread) bool { return x.ID == y.ID }) {
			m.Threads = append(m.Threads, x)
		}
	}
	if n := len(told) - 1; n == 1 {
		m.Subject += ", and one more"
	} else {
		m.Subject += fmt.Sprintf(", and %d more", n)
	}
	m.Body = b.String() + rest
	return m
}

// alsoLine is what is told in one line of another's message.
func (c *composer) alsoLine(t episode.Told) string {
	e, said := t.Event, words.Alarm(string(t.Key.Kind))
	switch {
	case t.Stage == episode.ComesAndGoes:
		return stageText{c}.recurrence(t)
	case e.To == alert.Active && textOf(e.Key.Kind).also != nil:
		return textOf(e.Key.Kind).also(c, e.Key)
	case e.Gone:
		return retiredHeadline(c.place(e.Key), said)
	case e.To != alert.Active:
		return strings.TrimSpace(words.Fine + " " + c.place(e.Key) + " " + said.Wrong + ": over")
	}
	return c.headline(t)
}
