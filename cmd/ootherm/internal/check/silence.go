package check

import (
	"fmt"
	"math"
	"slices"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// Values beyond these keep an alarm from a person for longer than eggs can wait. All are our
// choice. A room whose heater is dead changes by a few kelvins per hour.
const (
	maxSafeOnDelay     = time.Hour
	maxWantedOnDelay   = 4 * time.Hour
	maxHumidityOnDelay = 24 * time.Hour
	maxSilentAfter     = 24 * time.Hour
	maxUsualOffsetK    = 3.0
	minUsualRate       = 1.0  // K per hour; a thermostat's cycle is as fast
	maxUsualRate       = 20.0 // K per hour
	maxUsualApartK     = 5.0
	maxBackupDelay     = time.Hour
	maxQuiet           = 12 * time.Hour
)

// silenceQuestions gives a line for each setting that can keep an alarm from a person: its
// key, its value, what that means at night, and what to write instead.
func silenceQuestions(c config.Config, r words.Reader) (all []string) {
	add := func(format string, a ...any) { all = append(all, fmt.Sprintf(format, a...)) }
	for _, p := range c.Probes {
		if p.SilentAfter > maxSilentAfter {
			add("probe %s: silent_after is %s, so a probe that dies in the evening is not missed for that long. Write silent_after = \"10m\".", p.Name, words.Span(p.SilentAfter))
		}
		if math.Abs(p.Offset) > maxUsualOffsetK {
			add("probe %s: offset is %s, so an alarm comes that much too early or too late at night. A probe that needs more than %s is broken or lies in the wrong place: hold a good thermometer beside it, run ootherm calibrate, or replace it.",
				p.Name, r.Difference(p.Offset), r.Difference(maxUsualOffsetK))
		}
	}
	for _, z := range c.Zones {
		all = append(all, zoneQuestions(z, r)...)
	}
	return append(all, senderQuestions(messageSenders(c))...)
}

// zoneQuestions gives the lines of one zone.
func zoneQuestions(z config.Zone, r words.Reader) (all []string) {
	add := func(format string, a ...any) { all = append(all, "zone "+z.Name+": "+fmt.Sprintf(format, a...)) }
	for _, x := range [...]struct {
		key   string
		band  *config.Band
		delay time.Duration
		write string
	}{{"wanted", z.Wanted, maxWantedOnDelay, "10m"}, {"safe", z.Safe, maxSafeOnDelay, "10m"}, {"humidity", z.Humidity, maxHumidityOnDelay, "30m"}} {
		if longest := longestOnDelay(x.band); longest > x.delay {
			add("%s has on_delay = %s, so nobody hears for that long that it is outside, and a shorter failure at night is never told. Write on_delay = %q.", x.key, words.Span(longest), x.write)
		}
		if x.key == "humidity" {
			continue // one end is usual: dry air harms most eggs, and boxes hold their own damp
		}
		if oneEnded(x.band, true) {
			add("%s has no high end (%s), so a heater that sticks at night raises no alarm by it. Add high, the warmest that you accept.", x.key, r.Band(x.band.Low, x.band.High))
		}
		if oneEnded(x.band, false) {
			add("%s has no low end (%s), so a heater that dies at night raises no alarm by it. Add low, the coldest that you accept.", x.key, r.Band(x.band.Low, x.band.High))
		}
	}
	if z.Wanted != nil && z.Safe == nil {
		add("wanted is there and safe is not, so only eggs of a known species in the book make an alarm critical; without them the room can freeze at night, and quiet hours hold the warning. Add safe = { low = ..., high = ... }, the limits for which you get up.")
	}
	if z.Rate > maxUsualRate || z.Rate < minUsualRate {
		add("rate is %s, and %s to %s is usual: above that an open door or a stuck heater at night is not told as a fast change, below that each cycle of a thermostat is. Write rate = \"5C\".",
			r.PerHour(z.Rate), r.Difference(minUsualRate), r.Difference(maxUsualRate))
	}
	if z.Apart > maxUsualApartK && len(z.Probes) > 1 {
		add("apart is %s, so a probe that is wrong by less can hide a cold room at night. Write apart = \"3C\".", r.Difference(z.Apart))
	}
	return all
}

// longestOnDelay gives the longest delay of the bands that can be in force.
func longestOnDelay(b *config.Band) (longest time.Duration) {
	for _, x := range b.All() {
		longest = max(longest, x.OnDelay)
	}
	return longest
}

// oneEnded reports whether a band that can be in force lacks one end.
func oneEnded(b *config.Band, high bool) bool {
	return slices.ContainsFunc(b.All(), func(x *config.Band) bool { return high && x.High == nil || !high && x.Low == nil })
}

// senderQuestions gives the lines of the senders. No setting of quiet holds a critical message
// back: [ratelimit.Limit] sends those day and night.
func senderQuestions(senders []config.Sender) (all []string) {
	for _, x := range senders {
		if x.After > maxBackupDelay {
			all = append(all, fmt.Sprintf(`sender %s: %s, so whoever it tells hears of a critical alarm at night when eggs may be lost. Write after = "15m".`, x.Name, afterLine(x)))
		}
		if q := x.Quiet; q != nil && quietLasts(q.From, q.To) > maxQuiet {
			all = append(all, fmt.Sprintf(`sender %s: quiet is from %s to %s, so a warning waits up to %s, and what it warns of may be over or critical by then. Write quiet = { from = "22:00", to = "07:00" }.`,
				x.Name, hourOf(q.From), hourOf(q.To), words.Span(quietLasts(q.From, q.To))))
		}
	}
	if from, to, ok := quietTogether(senders); ok {
		all = append(all, fmt.Sprintf("quiet: from %s to %s every sender that takes warnings at once is quiet, so at night a warning waits, also an early one. A critical message is sent. Leave quiet out of one sender to hear a warning at night.", from, to))
	}
	return all
}

// quietLasts is the length of quiet hours, which may run over midnight.
func quietLasts(from, to time.Duration) time.Duration {
	const day = 24 * time.Hour
	return (to - from + day) % day
}

// quietTogether gives the first hours in which no sender takes a warning at once, although
// some do at other hours.
func quietTogether(senders []config.Sender) (from, to string, ok bool) {
	const day = 24 * time.Hour
	var quiet []*config.Quiet
	for _, x := range senders {
		switch when, atOnce := delivery(x, alert.Warning); {
		case when == "" || !atOnce: // it takes no warning at once at any hour
		case x.Quiet == nil || x.Quiet.From == x.Quiet.To:
			return "", "", false
		default:
			quiet = append(quiet, x.Quiet)
		}
	}
	all := func(at time.Duration) bool {
		return !slices.ContainsFunc(quiet, func(q *config.Quiet) bool { return quietLasts(q.From, at) >= quietLasts(q.From, q.To) })
	}
	for _, q := range quiet { // the hours begin where the last of them becomes quiet
		if at := q.From; all(at) && !all((at+day-time.Minute)%day) {
			end := at
			for all(end) && end < at+day {
				end += time.Minute
			}
			return hourOf(at), hourOf(end % day), true
		}
	}
	return "", "", false
}
