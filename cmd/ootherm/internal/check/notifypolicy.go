package check

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// tellers are the senders that carry messages.
func tellers(c config.Config) []config.Sender {
	return slices.DeleteFunc(slices.Clone(c.Senders), func(x config.Sender) bool { return x.Kind == plan.LampKind })
}

// told is when a sender gets an alarm of a priority, empty where it never does; and
// whether that is without a wait for somebody to say that they saw it.
func told(x config.Sender, p alert.Priority) (when string, atOnce bool) {
	plan := plan.Sender{Priorities: x.Priorities, After: x.After}
	switch q := x.Quiet; {
	case !plan.Takes(alert.Message{Priority: p}):
		return "", false
	case x.After > 0:
		return "after " + words.Span(x.After) + ", if nobody has said they saw it", false
	case p != alert.Critical && q != nil && q.From != q.To:
		return fmt.Sprintf("at once, from %s to %s at %s", hourOf(q.From), hourOf(q.To), hourOf(q.To)), true
	}
	return "at once, day and night", true
}

func hourOf(d time.Duration) string {
	return fmt.Sprintf("%02d:%02d", int(d/time.Hour), int(d%time.Hour/time.Minute))
}

// deaf is why a sender does not get a critical alarm at once, by the key that says so.
func deaf(x config.Sender) string {
	if !(plan.Sender{Priorities: x.Priorities}).Takes(alert.Message{Priority: alert.Critical}) {
		return fmt.Sprintf(`%s leaves it out (priorities = ["%s"])`, x.Name, strings.Join(x.Priorities, `", "`))
	}
	return x.Name + " waits (" + afterOf(x) + ")"
}

// afterOf is a sender's delay as the file has it.
func afterOf(x config.Sender) string {
	n, unit := x.After/time.Second, "s"
	switch {
	case x.After%time.Hour == 0:
		n, unit = x.After/time.Hour, "h"
	case x.After%time.Minute == 0:
		n, unit = x.After/time.Minute, "m"
	}
	return fmt.Sprintf(`after = "%d%s"`, n, unit)
}

// untold is what of the senders leaves people untold who think that they are told.
func untold(senders []config.Sender) []string {
	var all, why []string
	for _, x := range senders {
		if _, atOnce := told(x, alert.Critical); !atOnce {
			why = append(why, deaf(x))
		}
		if x.After > 0 && x.Priorities != nil && !slices.Contains(x.Priorities, string(alert.Critical)) {
			all = append(all, fmt.Sprintf(`%s gets nothing: %s is for critical alarms alone, and its priorities leave them out. Add "critical" to them, or take one of the two lines away.`, x.Name, afterOf(x)))
		}
	}
	if len(senders) > 0 && len(why) == len(senders) {
		all = append(all, fmt.Sprintf(`no sender takes a critical alarm at once, so eggs may be in danger and nobody is told, or late: %s. One [[sender]] has to be without after, and without priorities or with "critical" among its priorities.`, strings.Join(why, "; ")))
	}
	return all
}

// checkTold says for each priority who is told and when, and what to think of.
func checkTold(say func(string, ...any), senders []config.Sender) {
	if len(senders) == 0 {
		say("Think of: there is no sender, so an alarm shows on the page and nowhere else.")
		return
	}
	var atOnce []config.Sender // of a critical alarm
	warned, backed := false, false
	for _, p := range [...]struct {
		of   alert.Priority
		name string
	}{{alert.Critical, "critical alarm (go now)"}, {alert.Warning, "warning (look today)"}, {alert.Notice, "notice (no hurry)"}} {
		var who []string
		for _, x := range senders {
			when, now := told(x, p.of)
			if when == "" {
				continue
			}
			who = append(who, x.Name+" "+when)
			if p.of == alert.Critical && now {
				atOnce = append(atOnce, x)
			}
			warned, backed = warned || p.of == alert.Warning, backed || !now
		}
		if len(who) == 0 {
			who = []string{"nobody"}
		}
		say("A %s: %s.", p.name, strings.Join(who, "; "))
	}
	for _, x := range senders {
		if x.Most > 0 {
			say("%s gets at most %s an hour, and then one that holds the rest; a critical alarm never waits for that longer than %s.", x.Name, words.Count(x.Most, "message", "messages"), words.Span(alert.MinDigestInterval))
		}
	}
	if !warned {
		say(`Think of: nobody is told of a warning, so the first you hear is that eggs are in danger. A sender without priorities, or with "warning" among them, is told before.`)
	}
	if len(atOnce) > 0 && !slices.ContainsFunc(atOnce, func(x config.Sender) bool { return x.Kind != "buzzer" }) {
		say("Think of: %s sounds beside the station alone; whoever is out, or asleep behind doors, is not told of a critical alarm at once.", atOnce[0].Name)
	}
	if !backed {
		say(`Think of: if nobody wakes, nobody else is told. A sender with after = "15m" is: a neighbour, or a louder path.`)
	}
}
