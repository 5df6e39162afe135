package check

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/ratelimit"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// messageSenders gives the senders that carry messages: all but lamps.
func messageSenders(c config.Config) []config.Sender {
	return slices.DeleteFunc(slices.Clone(c.Senders), func(x config.Sender) bool { return x.Kind == plan.LampKind })
}

// delivery says when a sender gets an alarm of a priority; empty where it never does.
// atOnce reports that it does not wait for an acknowledgement first.
func delivery(x config.Sender, p alert.Priority) (when string, atOnce bool) {
	plan := plan.Sender{Priorities: x.Priorities, After: x.After}
	switch q := x.Quiet; {
	case !plan.Takes(alert.Message{Priority: p}):
		return "", false
	case x.After > 0:
		return "after " + words.Span(x.After) + ", unless it has been seen by then", false
	case p != alert.Critical && q != nil && q.From != q.To:
		return fmt.Sprintf("at once, from %s to %s at %s", hourOf(q.From), hourOf(q.To), hourOf(q.To)), true
	}
	return "at once, day and night", true
}

func hourOf(d time.Duration) string {
	return fmt.Sprintf("%02d:%02d", int(d/time.Hour), int(d%time.Hour/time.Minute))
}

// whyNotImmediate says why a sender does not get a critical alarm at once, and quotes the
// key of the configuration that decides it.
func whyNotImmediate(x config.Sender) string {
	if !(plan.Sender{Priorities: x.Priorities}).Takes(alert.Message{Priority: alert.Critical}) {
		return fmt.Sprintf(`%s leaves it out (priorities = ["%s"])`, x.Name, strings.Join(x.Priorities, `", "`))
	}
	return x.Name + " waits (" + afterLine(x) + ")"
}

// afterLine gives a sender's delay as the configuration writes it.
func afterLine(x config.Sender) string {
	n, unit := x.After/time.Second, "s"
	switch {
	case x.After%time.Hour == 0:
		n, unit = x.After/time.Hour, "h"
	case x.After%time.Minute == 0:
		n, unit = x.After/time.Minute, "m"
	}
	return fmt.Sprintf(`after = "%d%s"`, n, unit)
}

// policyGaps lists senders whose settings mean that they get nothing, or that no sender
// gets a critical alarm at once.
func policyGaps(senders []config.Sender) []string {
	var gaps, why []string
	for _, x := range senders {
		if _, atOnce := delivery(x, alert.Critical); !atOnce {
			why = append(why, whyNotImmediate(x))
		}
		if x.After > 0 && x.Priorities != nil && !slices.Contains(x.Priorities, string(alert.Critical)) {
			gaps = append(gaps, fmt.Sprintf(`%s gets nothing: %s is for critical alarms alone, and its priorities leave them out. Add "critical" to them, or take one of the two lines away.`, x.Name, afterLine(x)))
		}
	}
	if len(senders) > 0 && len(why) == len(senders) {
		gaps = append(gaps, fmt.Sprintf(`no sender takes a critical alarm at once, so eggs may be in danger and nobody is told, or late: %s. One [[sender]] has to be without after, and without priorities or with "critical" among its priorities.`, strings.Join(why, "; ")))
	}
	return gaps
}

// describePolicy writes for each priority which senders get it and when, and what to think
// of.
func describePolicy(say func(string, ...any), senders []config.Sender) {
	if len(senders) == 0 {
		say("Consider: there is no sender, so an alarm shows on the page and nowhere else.")
		return
	}
	var atOnce []config.Sender // get a critical alarm at once
	hasWarning, hasBackup := false, false
	for _, p := range [...]struct {
		of   alert.Priority
		name string
	}{{alert.Critical, "critical alarm (go now)"}, {alert.Warning, "warning (look today)"}, {alert.Notice, "notice (no hurry)"}} {
		var who []string
		for _, x := range senders {
			when, now := delivery(x, p.of)
			if when == "" {
				continue
			}
			who = append(who, x.Name+" "+when)
			if p.of == alert.Critical && now {
				atOnce = append(atOnce, x)
			}
			hasWarning, hasBackup = hasWarning || p.of == alert.Warning, hasBackup || !now
		}
		if len(who) == 0 {
			who = []string{"nobody"}
		}
		say("A %s: %s.", p.name, strings.Join(who, "; "))
	}
	for _, x := range senders {
		if x.Most > 0 {
			say("%s gets at most %s an hour, and then one that holds the rest; a critical alarm never waits for that longer than %s.", x.Name, words.Count(x.Most, "message", "messages"), words.Span(ratelimit.MinDigestInterval))
		}
	}
	if !hasWarning {
		say(`Consider: nobody is told of a warning, so the first you hear is that eggs are in danger. A sender without priorities, or with "warning" among them, is told before.`)
	}
	if len(atOnce) > 0 && !slices.ContainsFunc(atOnce, func(x config.Sender) bool { return x.Kind != "buzzer" }) {
		say("Consider: %s sounds beside the station alone; whoever is out, or asleep behind doors, is not told of a critical alarm at once.", atOnce[0].Name)
	}
	if !hasBackup {
		say(`Consider: add a second person who is told after 15 minutes (a sender with after = "15m"). Without one, nobody else hears of a critical alarm.`)
	}
}
