package journal_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/episode"
	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/cmd/ootherm/internal/station/journal"
)

// keeper is a store for a journal and for its courier.
type keeper interface {
	journal.Store
	outbox.Keeper
}

// killed is the panic of a process that is killed.
type killed struct{}

// lifeLimits are those of a zone: below 20 C and below 18 C.
func lifeLimits() map[alert.Key]alert.Limit {
	return map[alert.Key]alert.Limit{
		cold:   {At: 20, Deadband: 0.5, OnDelay: 10 * time.Minute, OffDelay: 5 * time.Minute, ReAlarm: 6 * time.Hour},
		unsafe: {At: 18, Deadband: 0.5, OnDelay: 2 * time.Minute, OffDelay: 5 * time.Minute, ReAlarm: time.Hour},
	}
}

var unsafe = alert.Key{Kind: alert.TemperatureLow, Priority: alert.Critical, Zone: "room"}

// neighbourAfter is how long an alarm stands before the second recipient is told.
const neighbourAfter = 20 * time.Minute

// counts are what happened.
type counts struct{ stored, delivered, again, kills, restarts, full int }

func (c *counts) add(o counts) {
	c.stored, c.delivered, c.again = c.stored+o.stored, c.delivered+o.delivered, c.again+o.again
	c.kills, c.restarts, c.full = c.kills+o.kills, c.restarts+o.restarts, c.full+o.full
}

// life is a station's alarms, journal and outbox on a card that can fail, and the reference.
type life struct {
	reference
	ctx      context.Context
	t        *testing.T
	disk     keeper
	full     bool
	mail     string // as the turns say it
	fuse     int    // calls until the process is killed; 0: it is not
	offset   time.Duration
	limits   bool
	episodes bool

	panel    *panel.Panel
	journal  *journal.Journal
	overflow *outbox.Overflow
	couriers []*outbox.Courier
}

func newLife(t *testing.T, disk keeper, episodes bool) *life {
	h := &life{ctx: t.Context(), t: t, disk: disk, mail: "mail up", limits: true, episodes: episodes, reference: newReference()}
	h.boot()
	return h
}

func (h *life) now() time.Time { return time.Now().Add(h.offset) }

// point is a moment at which the process may be killed.
func (h *life) point() {
	if h.fuse > 0 {
		if h.fuse--; h.fuse == 0 {
			panic(killed{})
		}
	}
}

// lifeCard is the disk as the station sees it.
type lifeCard struct {
	keeper
	h *life
}

var errNoSpace = errors.New("no space left")

func (c lifeCard) Commit(ctx context.Context, a []alert.Alarm, m []alert.Message) error {
	c.h.point()
	if c.h.full {
		c.h.counts.full++
		return errNoSpace
	}
	err := c.keeper.Commit(ctx, a, m)
	if err == nil {
		c.h.stored(m)
		c.h.remember(c.h.panel)
	}
	c.h.point()
	return err
}

func (c lifeCard) Done(ctx context.Context, id string, o alert.Outcome) error {
	c.h.point()
	if c.h.full {
		return errNoSpace
	}
	err := c.keeper.Done(ctx, id, o)
	c.h.point()
	return err
}

// recipient is a sender.
type recipient struct {
	h    *life
	name string
}

func (r recipient) Send(_ context.Context, m alert.Message) error {
	r.h.point()
	mail := r.h.mail
	if r.name != "mail" {
		mail = "mail up"
		a, _ := r.h.panel.Alarm(unsafe)
		if m.Alarm != "" && a.State != alert.Active {
			r.h.fail("the second recipient gets %s, and the alarm is %s", m.ID, a.State)
		}
	}
	switch mail {
	case "mail down":
		return errors.New("connection refused")
	case "mail refuses":
		return alert.Permanent(errors.New("no such box"))
	}
	r.h.delivered(r.name, m)
	r.h.point()
	if mail == "mail loses answers" {
		r.h.excuses++
		return errors.New("the connection was lost")
	}
	return nil
}

// boot starts the station over what the disk holds.
func (h *life) boot() {
	h.fuse = 0
	store := lifeCard{h.disk, h}
	courier := func(k outbox.Keeper, routes []outbox.Route) *outbox.Courier {
		live := outbox.Overlay{Keeper: k, State: func(key string) (alert.State, bool) {
			k, err := alert.ParseKey(key)
			a, ok := h.panel.Alarm(k)
			if err != nil || !ok { // an alarm without a limit is normal
				return alert.Normal, true
			}
			return a.State, true
		}}
		c := outbox.NewCourier(live, routes, h.now, func(outbox.Attempt) {})
		h.couriers = append(h.couriers, c)
		return c
	}
	h.couriers = nil
	routes := []outbox.Route{{Name: "mail", Sender: recipient{h, "mail"}}, {Name: "neighbour", Sender: recipient{h, "neighbour"}, After: neighbourAfter}}
	h.overflow, routes = outbox.NewOverflow(routes, courier)
	courier(store, routes)
	urgent := func(a []alert.Alarm, m []alert.Message) {
		if err := h.overflow.Take(h.ctx, a, m); err != nil {
			h.fail("the overflow: %v", err)
		}
	}
	var err error
	if h.journal, h.panel, err = journal.Open(h.ctx, journal.Options{Store: store, Urgent: urgent}, time.Minute, h.now()); err != nil {
		h.fail("open: %v", err)
		return
	}
	h.journal.Compose = h.compose
	if !h.limits { // what ends now is told of no more
		h.hidden[cold], h.hidden[unsafe] = true, true
	}
	h.started, h.beyond = h.now(), map[alert.Key]time.Time{}
	h.want()
	h.same(h.panel, h.now())
	if h.episodes {
		h.panel.Episodes.Look = func(alert.Key, alert.Side) (episode.Situation, bool) {
			back := h.value > 20.5
			return episode.Situation{Value: h.value, Inside: back, Back: back}, true
		}
	}
	if err := h.journal.Forget(h.ctx, h.now(), true); err != nil && !errors.Is(err, errNoSpace) {
		h.fail("forget: %v", err)
	}
}

// want sets the limits.
func (h *life) want() {
	limits := lifeLimits()
	if !h.limits {
		clear(limits)
	}
	h.panel.Step(h.now())
	h.panel.Want(limits, panel.Places{Zones: []string{"room"}}, "since the configuration changed")
	h.journal.Record()
}

// compose makes a message for each recipient of all that is told.
func (h *life) compose(told []episode.Told) (all []alert.Message) {
	for _, x := range told {
		h.serial++
		m := alert.Message{ID: h.panel.NextMessage(x.Key), Alarm: x.Key.String(), At: x.At, Priority: x.Key.Priority,
			Subject: fmt.Sprint(h.serial), Over: x.Stage == episode.Over || x.Stage == "" && x.To != alert.Active}
		if x.Stage == episode.Holds {
			m.Over = false
		}
		h.numbers[m.ID] = m.Subject
		h.about[m.Subject] = m
		for _, to := range []string{"mail", "neighbour"} {
			m.Sender = to
			all = append(all, m)
		}
	}
	return all
}

// safely runs what a kill may end, and then boots.
func (h *life) safely(do func()) {
	defer func() {
		switch r := recover(); r.(type) {
		case nil:
		case killed:
			h.counts.kills++
			h.excuses++
			h.boot()
		default:
			panic(r)
		}
	}()
	do()
}

// commit writes what changed.
func (h *life) commit() {
	err := h.journal.Commit(h.ctx)
	if err == nil {
		h.remember(h.panel)
	} else if !errors.Is(err, errNoSpace) {
		h.fail("commit: %v", err)
	}
}

// minutes lets time pass, with a poll after each step of it.
func (h *life) minutes(n, step int, v float64) {
	h.value = v
	for at := 0; at < n && h.wrong == ""; at += step {
		<-time.After(time.Duration(step) * time.Minute)
		h.safely(func() {
			h.panel.Step(h.now())
			before := h.alarms(h.panel)
			for _, k := range []alert.Key{cold, unsafe} {
				h.panel.Show(k, panel.Reading{Value: v, Known: !math.IsNaN(v)})
			}
			h.follow(before, h.alarms(h.panel), h.now())
			h.commit()
			for _, c := range h.couriers {
				if _, err := c.Round(h.ctx); err != nil && !errors.Is(err, errNoSpace) {
					h.fail("courier: %v", err)
				}
			}
		})
	}
}

// turn does one thing.
func (h *life) turn(x turn) {
	switch x.kind {
	case "cold":
		h.minutes(x.n, 1, 17)
	case "cool":
		h.minutes(x.n, 1, 19)
	case "fine":
		h.minutes(x.n, 1, 23)
	case "missing":
		h.minutes(x.n, 1, math.NaN())
	case "kill":
		h.safely(func() { panic(killed{}) })
	case "kill at call":
		h.fuse = x.n + 1
	case "restart", "restart with an old clock":
		h.counts.restarts++
		h.safely(func() { h.commit(); h.fuse = 0 })
		h.offset -= time.Duration(x.n) * time.Hour
		h.excuses++
		h.boot()
	case "clock forward":
		h.step(time.Duration(x.n) * time.Minute)
	case "clock back":
		h.step(-time.Duration(x.n) * time.Minute)
	case "card full", "card has room":
		h.full = x.kind == "card full"
	case "limits gone", "limits back":
		h.limits = x.kind == "limits back"
		h.beyond = map[alert.Key]time.Time{}
		h.safely(func() { h.want(); h.commit() })
	case "acknowledge", "shelve", "unshelve", "take out", "put back":
		h.safely(func() { h.act(x.kind, []alert.Key{cold, unsafe}[x.n]) })
	default:
		h.mail = x.kind
	}
}

// step dates the boot again.
func (h *life) step(by time.Duration) {
	h.safely(func() {
		h.panel.Shift(h.started, by)
		h.offset += by
		h.started = h.started.Add(by)
		h.beyond = map[alert.Key]time.Time{}
		h.panel.Step(h.now())
		h.commit()
	})
}

// act does what a person asks.
func (h *life) act(what string, k alert.Key) {
	a := panel.Action{Alarm: k.String(), Until: h.now().Add(time.Hour), Who: "Ann"}
	a.Do = map[string]string{"acknowledge": panel.Acknowledge, "shelve": panel.Shelve, "unshelve": panel.Unshelve, "take out": panel.TakeOut, "put back": panel.PutBack}[what]
	h.panel.Step(h.now())
	if _, ok := h.panel.Alarm(k); !ok {
		return
	}
	if err := h.panel.Act(a); err != nil {
		h.fail("%s: %v", what, err)
		return
	}
	if what == "shelve" || what == "take out" {
		h.hidden[k] = true
	}
	h.commit()
}

// mend repairs all that is broken, and has a person try again what was refused.
func (h *life) mend() {
	h.fuse, h.full, h.mail, h.limits = 0, false, "mail up", true
	h.want()
	for _, k := range []alert.Key{cold, unsafe} {
		h.act("put back", k)
		h.act("unshelve", k)
	}
	h.retry()
}

// retry has a person try again what waits.
func (h *life) retry() {
	waiting, err := h.disk.Waiting(h.ctx)
	if err != nil {
		h.fail("waiting: %v", err)
	}
	for _, m := range waiting {
		if err := h.disk.Done(h.ctx, m.ID, alert.Outcome{Sender: m.Sender, Result: alert.Retry, Next: h.now()}); err != nil {
			h.fail("trying again: %v", err)
		}
	}
}
