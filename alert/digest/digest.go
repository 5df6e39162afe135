// Package digest owns how several messages become one: each episode is in it once, with its
// newest message. It is pure. It must not know which messages go together, nor when.
package digest

import (
	"fmt"
	"slices"
	"strings"

	"example.com/ootherm/alert"
)

// whole is how many messages of a digest are told in full, and of the others the key
// fact alone: a person does not read a hundred (our choice).
const whole = 20

// story is the messages of a digest about one episode, or one message about none.
type story struct {
	newest alert.Message
	older  []alert.Message // in the order of their times
}

// stories puts together the messages of each episode, the most urgent first.
func stories(parts []alert.Message) (all []story) {
	for _, m := range parts {
		i := -1
		if m.OfZone() {
			i = slices.IndexFunc(all, func(s story) bool { return s.newest.Episode() == m.Episode() })
		}
		switch {
		case i < 0:
			all = append(all, story{newest: m})
		case m.At.Before(all[i].newest.At):
			all[i].older = append(all[i].older, m)
		default:
			all[i].older = append(all[i].older, all[i].newest)
			all[i].newest = m
		}
	}
	for _, s := range all {
		slices.SortStableFunc(s.older, func(a, b alert.Message) int { return a.At.Compare(b.At) })
	}
	slices.SortStableFunc(all, func(a, b story) int { return alert.CompareUrgency(a.newest, b.newest) })
	return all
}

// Of is several messages as one, the most urgent first. Each episode is in it once, with
// its newest message; those before it have a line each. Its ID names the first and how many
// more. It is as old as the oldest that is told, and tells of an end only when all do. Of
// several files the last goes with it: each is a later copy of the same.
func Of(parts []alert.Message) alert.Message {
	all := stories(parts)
	m := all[0].newest
	m.ID = fmt.Sprintf("%s+%d", m.ID, len(parts)-1)
	m.Threads = alert.ThreadsOf(parts)
	m.Parts = nil
	for _, p := range parts {
		m.Parts = append(m.Parts, p.ID)
		if p.Attach != "" {
			m.Attach = p.Attach
		}
	}
	if len(all) == 1 {
		m.Body = strings.TrimRight(m.Body, "\n") + "\n" + all[0].before()
		return m
	}
	m.Alarm = ""
	m.Subject = fmt.Sprintf("%s, and %d more", m.Subject, len(all)-1)
	var b strings.Builder
	fmt.Fprintf(&b, "%d messages in one.\n", len(all))
	for i, s := range all {
		p := s.newest
		m.Over = m.Over && p.Over
		if p.At.Before(m.At) {
			m.At = p.At
		}
		if i == whole {
			b.WriteString("\nAnd in short:\n")
		}
		if i < whole {
			b.WriteByte('\n')
		}
		fmt.Fprintf(&b, "%s  %s\n", p.At.Format("2006-01-02 15:04"), p.Subject)
		switch {
		case i >= whole:
		case p.Over && len(s.older) > 0: // it began and ended while messages waited
			fmt.Fprintf(&b, "Meanwhile, from %s: %s\n", s.older[0].At.Format("15:04"), line(p, 1))
		default:
			fmt.Fprintf(&b, "%s\n%s", strings.TrimRight(p.Body, "\n"), s.before())
		}
	}
	m.Body = b.String()
	return m
}

// line is one line of a message's body; empty where it has no such line.
func line(m alert.Message, i int) string {
	lines := strings.Split(m.Body, "\n")
	if i >= len(lines) {
		return ""
	}
	return lines[i]
}

// before lists the messages that the newest outdates; empty where there are none.
func (s story) before() string {
	if len(s.older) == 0 {
		return ""
	}
	var b strings.Builder
	b.WriteString("Before that, not sent until now:\n")
	for _, p := range s.older {
		fmt.Fprintf(&b, "  %s  %s\n", p.At.Format("2006-01-02 15:04"), p.Subject)
	}
	return b.String()
}
