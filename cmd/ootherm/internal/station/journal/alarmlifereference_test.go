package journal_test

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
)

// reference is what must be so, kept where nothing is lost.
type reference struct {
	counts  counts
	wrong   string // the first thing that is
	started time.Time
	value   float64 // that the probes give
	serial  int     // of messages

	numbers map[string]string         // identity -> serial that had it last
	about   map[string]alert.Message  // serial -> message
	taken   map[string]alert.Message  // serial -> message that the card took
	got     map[string]map[string]int // recipient -> serial -> how often
	under   map[string]string         // recipient and identity -> serial that came under it
	card    map[alert.Key]alert.Alarm // as the card has them
	beyond  map[alert.Key]time.Time   // since when each poll of this process was past the limit
	hidden  map[alert.Key]bool        // a person hid it once
	excuses int                       // kills and lost answers: each may repeat a delivery
	whole   map[string]int            // recipient and serial -> how often a digest with others brought it again
}

func newReference() reference {
	return reference{
		numbers: map[string]string{}, about: map[string]alert.Message{}, taken: map[string]alert.Message{},
		got: map[string]map[string]int{"mail": {}, "neighbour": {}}, under: map[string]string{}, hidden: map[alert.Key]bool{}, whole: map[string]int{},
	}
}

func (r *reference) fail(format string, a ...any) {
	if r.wrong == "" {
		r.wrong = fmt.Sprintf(format, a...)
	}
}

// stored notes the messages that the card took.
func (r *reference) stored(all []alert.Message) {
	for _, m := range all {
		if m.Sender == "mail" {
			r.taken[m.Subject] = m
			r.counts.stored++
		}
	}
}

// delivered notes what a recipient got, and that one identity is one message.
func (r *reference) delivered(to string, m alert.Message) {
	ids := m.Parts
	if len(ids) == 0 {
		ids = []string{m.ID}
	}
	// A digest is sent whole, though a part of it was delivered from memory.
	others := slices.ContainsFunc(m.Parts, func(id string) bool { return r.got[to][r.numbers[id]] == 0 })
	for _, id := range ids {
		serial := r.numbers[id]
		if len(m.Parts) == 0 {
			serial = m.Subject
		}
		// A message that the card never took leaves its identity to the next.
		if before, ok := r.under[to+id]; ok && before != serial && r.isTaken(before) {
			r.fail("%s gets number %s under the identity %s, and had number %s under it", to, serial, id, before)
		}
		r.under[to+id] = serial
		r.got[to][serial]++
		r.counts.delivered++
		if n := r.got[to][serial]; n > 1 {
			r.counts.again++
			if others {
				r.whole[to+serial]++
			}
			if n > 1+r.excuses+r.whole[to+serial] {
				r.fail("%s gets %s %d times, and %d things excuse that", to, id, n, r.excuses)
			}
		}
	}
}

func (r *reference) isTaken(serial string) bool {
	_, ok := r.taken[serial]
	return ok
}

// alarms are the alarms of a panel.
func (r *reference) alarms(p *panel.Panel) map[alert.Key]alert.Alarm {
	all := map[alert.Key]alert.Alarm{}
	for _, k := range []alert.Key{cold, unsafe} {
		if a, ok := p.Alarm(k); ok {
			all[k] = a
		}
	}
	return all
}

// remember notes that the card has the alarms as they are.
func (r *reference) remember(p *panel.Panel) { r.card = r.alarms(p) }

// same compares the alarms after a start with those that the card has.
func (r *reference) same(p *panel.Panel, now time.Time) {
	for k, got := range r.alarms(p) {
		want, ok := r.card[k]
		if !ok {
			continue
		}
		stands := want.True && (got.Acked != want.Acked || got.First != want.First) // else they say nothing
		if got.True != want.True || stands || got.Unseen != want.Unseen || got.Out != want.Out || got.Sequence != want.Sequence {
			r.fail("after a start %s is %+v, and the card had %+v", k, got, want)
		}
		left := want.ShelvedUntil.Sub(now)
		if left > 0 && left <= alert.MaxShelve && !got.ShelvedUntil.Equal(want.ShelvedUntil) {
			r.fail("after a start %s is shelved until %v, and was until %v", k, got.ShelvedUntil, want.ShelvedUntil)
		}
	}
}

// follow compares a poll with what the value asks for.
func (r *reference) follow(before, after map[alert.Key]alert.Alarm, now time.Time) {
	for k, a := range after {
		past, known := a.Limit.Beyond(r.value), !math.IsNaN(r.value)
		switch was := before[k]; {
		case was.True && !a.True && !(known && a.Limit.Back(r.value)):
			r.fail("%s ends at the value %g", k, r.value)
		case !was.True && a.True && !past:
			r.fail("%s is raised at the value %g", k, r.value)
		}
		switch since, ok := r.beyond[k]; {
		case known && !past:
			delete(r.beyond, k)
		case past && !ok:
			r.beyond[k] = now
		case past && now.Sub(since) >= a.Limit.OnDelay && !a.True:
			r.fail("%s is not raised after %v at %g", k, now.Sub(since), r.value)
		}
	}
}

// believes is what the newest message that a person has about an alarm says, and whether the card
// took it; none: that it is over. An empty key is any alarm.
func (r *reference) believes(k string) (over, taken bool) {
	newest, over := 0, true
	for serial := range r.got["mail"] {
		m := r.about[serial]
		if n, err := strconv.Atoi(serial); err == nil && n > newest && (k == "" || m.Alarm == k) {
			newest, over = n, m.Over
		}
	}
	return over, newest == 0 || r.isTaken(strconv.Itoa(newest))
}

// end lets everything settle in the cold or in the warm, and says what is wrong then.
func (h *life) end(inCold bool) {
	v := 23.0
	if inCold {
		v = 17
	}
	h.minutes(60, 5, v)
	h.retry() // what was refused, and could not be noted so on a full card
	h.minutes(8*60, 5, v)
	if h.wrong != "" {
		return
	}
	lately := h.now().Add(-time.Hour) // what was told since may wait for its turn
	waiting, err := h.disk.Waiting(h.ctx)
	if err != nil {
		h.fail("waiting: %v", err)
	}
	for _, m := range waiting {
		if m.At.Before(lately) {
			h.fail("at the end %s waits for %s", m.ID, m.Sender)
		}
	}
	for serial, m := range h.taken {
		if h.got["mail"][serial] == 0 && m.At.Before(lately) {
			h.fail("%s, number %s, was stored and never delivered", m.ID, serial)
		}
	}
	alarms := h.alarms(h.panel)
	for k := range lifeLimits() {
		if _, ok := alarms[k]; !ok {
			h.fail("at the end nothing watches %s", k)
		}
	}
	for k, a := range alarms {
		if a.True != inCold {
			h.fail("at the end %s is %s at %g", k, a.State, v)
		}
		about := k.String()
		if h.episodes {
			about = "" // one story tells of both
		}
		over, taken := h.believes(about)
		if a.State == alert.Active && over && (h.episodes || k == unsafe || !h.outranked(k)) {
			h.fail("at the end %s is active, and a person believes that it is over", k)
		}
		// What a full card did not take before a kill is told, and forgotten.
		if !a.True && !over && taken && !h.hidden[k] {
			h.fail("at the end %s is over, and a person believes that it is not", k)
		}
	}
	if inCold && !h.told(unsafe) {
		h.fail("at the end the second recipient knows of no alarm that stands")
	}
}

// outranked reports whether the critical alarm of the same cause stands: a warning that is
// called again then has no message.
func (h *life) outranked(k alert.Key) bool { return k == cold && h.panel.Stands(unsafe) }

// told reports whether the second recipient had a message of the occurrence that stands.
func (h *life) told(k alert.Key) bool {
	for serial := range h.got["neighbour"] {
		if m := h.about[serial]; m.Priority == k.Priority && !m.Over {
			return true
		}
	}
	return false
}
