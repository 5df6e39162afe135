package client

import (
	"fmt"
	"io"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/forms"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// DescribeBoxes writes the window of each clutch, for a person: what a window lacks, and
// the commands that mend it. They have the flag, which leads to the same configuration;
// needed are the forms that come before any clutch.
func DescribeBoxes(w io.Writer, n *snapshot.Snapshot, r words.Reader, flag string, needed []forms.Filled) error {
	any := false
	t := tabwriter.NewWriter(w, 0, 8, 2, ' ', 0)
	for _, b := range n.Boxes {
		for _, c := range b.Clutches {
			if waiting := waitingEggs(c); waiting > 0 {
				any = true
				describeClutch(t, b, c, waiting, r, flag)
			}
		}
	}
	for _, u := range n.Unplaced {
		any = true
		fmt.Fprintf(t, "-\t%s\t%s\t%s\t\tno window\n", u.Clutch, words.OrEmpty(u.Dam), words.Count(len(u.Eggs), "egg", "eggs"))
		fmt.Fprintf(t, "\t\tno window: The eggs lie in no box by the book: %s\n", Command(forms.Place(u), flag))
	}
	if !any && len(needed) > 0 {
		fmt.Fprintln(t, "No eggs wait. Note what comes first:")
		for _, x := range needed {
			fmt.Fprintf(t, "  %s\n", Command(x, flag))
		}
	}
	return t.Flush()
}

// waitingEggs counts the eggs of a clutch that are still to hatch.
func waitingEggs(c snapshot.Clutch) (n int) {
	for _, e := range c.Eggs {
		if e.Fate == "waiting" || e.Fate == "pipped" {
			n++
		}
	}
	return n
}

// describeClutch writes a clutch in a box, and what its window lacks.
func describeClutch(w io.Writer, b snapshot.Box, c snapshot.Clutch, waiting int, r words.Reader, flag string) {
	fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%s\t%s\n", b.Box, c.Clutch, words.OrEmpty(c.Dam), words.Count(waiting, "egg", "eggs"),
		shareText(c.Developed, r.Developed), windowText(c, r), shareText(c.Observed, r.Observed))
	for _, m := range forms.Mends(c, b) {
		fmt.Fprintf(w, "\t\tno window: %s\n", mendText(m, flag))
	}
	if c.Why != nil && c.Why.Remedy != nil {
		fmt.Fprintf(w, "\t\t%s\n", words.Remedy(*c.Why.Remedy))
	}
	for _, why := range c.Because {
		fmt.Fprintf(w, "\t\t%s\n", why)
	}
}

// mendText is what a window lacks, with the command or the topic that mends it.
func mendText(m forms.Mend, flag string) string {
	switch {
	case m.Form.Form.Kind != "":
		return strings.TrimSuffix(m.Why, ".") + ": " + Command(m.Form, flag)
	case m.Topic != "":
		return strings.TrimSuffix(m.Why, ".") + ": ootherm help " + m.Topic
	}
	return m.Why
}

// Command is the command that notes a form. In capitals stands what is to be filled in.
func Command(x forms.Filled, flag string) string {
	text := "ootherm book note " + x.Form.Kind + flag
	for _, f := range x.Form.Fields {
		switch answer := x.Answers.Get(f.Name); {
		case answer != "":
			text += " --" + Flag(f) + " " + strconv.Quote(answer)
		case f.Must && f.Usual == "" || x.Asks == f.Name || f.Name == "dam":
			text += " --" + Flag(f) + " " + strings.ToUpper(Flag(f))
		}
	}
	return text
}

// DescribeAlarms writes the alarms that are not normal, for a person, and those that are
// raised if their cause lasts.
func DescribeAlarms(w io.Writer, n *snapshot.Snapshot, r words.Reader) error {
	if len(n.Alarms) == 0 && len(n.Pending) == 0 && len(n.Health.Deliveries) == 0 {
		_, err := fmt.Fprintln(w, "All in order.")
		return err
	}
	for _, d := range n.Health.Deliveries {
		if text := words.Undelivered(r, d, n.At); text != "" {
			if _, err := fmt.Fprintln(w, text); err != nil {
				return err
			}
		}
	}
	t := tabwriter.NewWriter(w, 0, 8, 2, ' ', 0)
	for _, a := range n.Alarms {
		text := words.Alarm(a.Alarm)
		until := time.Time{}
		if a.Until != nil {
			until = *a.Until
		}
		value := r.Value(text.Quantity, a.Value)
		priority := words.Urgency(a)
		if past := words.PastSafe(r, a, n); past != "" {
			value += "; " + past
		} else if back, figures, recovered := words.Recovered(r, a, n); recovered {
			text, value, priority = back, figures, "it was "+a.Priority
		} else if a.Coming != nil {
			value += "; " + r.Coming(*a.Coming, n.At)
		}
		fmt.Fprintf(t, "%s %s\t%s\t%s\t%s\tsince %s\t%s\t%s\n", text.Shape, words.Place(a.AlarmPlace), text.Wrong, value,
			priority, r.When(a.Since, n.At), r.State(a.State, until, n.At), a.Key)
	}
	for _, a := range n.Pending {
		text := words.Alarm(a.Alarm)
		fmt.Fprintf(t, "%s %s\t%s\t%s\t%s\tsince %s\tno alarm yet; raised at %s if it lasts\t%s\n", text.Shape, words.Place(a.AlarmPlace), text.Wrong,
			r.Value(text.Quantity, a.Value), words.Priority(a.Priority), r.When(a.Since, n.At), r.When(a.RaisedAt, n.At), a.Key)
	}
	if err := t.Flush(); err != nil {
		return err
	}
	for _, d := range n.Health.Deliveries {
		if _, err := fmt.Fprint(w, deliveryText(d, n.At, r)); err != nil {
			return err
		}
	}
	return nil
}

// deliveryText says what becomes of the messages that wait for a sender, in lines.
func deliveryText(d snapshot.Delivery, at time.Time, r words.Reader) string {
	said := ""
	if d.Err != nil {
		said = " The last try: " + *d.Err
	}
	var lines strings.Builder
	if d.Waiting > 0 {
		next := "now"
		if d.NextTry != nil && d.NextTry.After(at) {
			next = r.When(*d.NextTry, at)
		}
		fmt.Fprintf(&lines, "%s: %s not delivered yet; next try: %s.%s\n", d.Sender, words.Count(d.Waiting, "message", "messages"), next, said)
	}
	if d.Refused > 0 {
		fmt.Fprintf(&lines, "%s: %s refused by the receiver, and not tried again.%s\n", d.Sender, words.Count(d.Refused, "message", "messages"), said)
	}
	return lines.String()
}

// windowText says when to look for a clutch's hatch. A clutch that was late before it
// had a window has a reason and no window.
func windowText(c snapshot.Clutch, r words.Reader) string {
	switch {
	case c.Window == nil && c.State != nil:
		return *c.State
	case c.Window == nil:
		return "no window"
	case c.Window.Late:
		return r.Window(*c.Window)
	}
	text := strings.Replace(r.Window(*c.Window), ", likely ", ", most likely ", 1)
	if c.State == nil || *c.State == snapshot.StateIncubating {
		return "hatch window " + text
	}
	return *c.State + ": " + text
}

// shareText formats a share; an unknown one is words.Unknown.
func shareText(v *float64, format func(float64) string) string {
	if v == nil {
		return words.Unknown
	}
	return format(*v)
}
