package panel

import (
	"cmp"
	"encoding/json"
	"math"
	"slices"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/episode"
)

// Look gives the situation of a side of a place, and reports whether its value falls.
type Look func(place alert.Key, side alert.Side) (now episode.Situation, falls bool)

// Episodes follow the alarms of each place, and keep what a person is to be told.
type Episodes struct {
	// Look is how they look at a station; nil: every event is told alone.
	Look   Look
	places []*place
	loaded map[alert.Key]episode.Record // of places that have no alarms yet
	told   []episode.Told
	begun  bool // a first step was made
}

// place is what has episodes: its alarms, and its record.
type place struct {
	key     alert.Key
	entries []*entry // with a limit
	record  episode.Record
	busy    bool // the record is not idle; set by setRecord
	dirty   bool
}

// setRecord replaces the record of a place.
func (p *place) setRecord(r episode.Record) { p.record, p.busy = r, !r.IsIdle() }

func newEpisodes() Episodes { return Episodes{loaded: map[alert.Key]episode.Record{}} }

// load takes a record from the journal. One that cannot be read begins again.
func (x *Episodes) load(a alert.Alarm) {
	var r episode.Record
	if len(a.Episode) > 0 && json.Unmarshal(a.Episode, &r) != nil {
		r = episode.Record{}
	}
	x.loaded[a.Key] = r
}

// index finds the places of all alarms with a limit. The episodes of a place whose alarms end
// because their limits went are over: that was told.
func (x *Episodes) index(r *register, now time.Time) {
	old := map[alert.Key]*place{}
	for _, p := range x.places {
		p.entries = nil
		old[p.key] = p
	}
	x.places = nil
	for _, k := range r.keys() {
		key, ok := episode.Place(k)
		if !ok {
			continue
		}
		i := slices.IndexFunc(x.places, func(p *place) bool { return p.key == key })
		if i < 0 {
			p := old[key]
			if p == nil {
				p = &place{key: key, dirty: x.begun}
				p.setRecord(x.loaded[key].Resume(now))
				delete(x.loaded, key)
			}
			i = len(x.places)
			x.places = append(x.places, p)
		}
		x.places[i].entries = append(x.places[i].entries, r.byKey[k])
		delete(old, key)
	}
	for key, p := range old { // its alarms may come back
		if sides := p.record.Sides; x.begun && (sides[0].Stands || sides[1].Stands) {
			p.record = episode.Record{}
		}
		x.loaded[key] = p.record
	}
}

// Told is what a person is to be told since it was last called.
func (x *Episodes) Told() []episode.Told {
	told := x.told
	x.told = nil
	return told
}

// follow follows events to the episodes of their places. Those of a place where something
// stands, or stood lately, go on without an event.
func follow(p *Panel, events []Event) {
	x := &p.Episodes
	byPlace := map[alert.Key][]alert.Event{}
	for _, e := range events {
		if !e.Notify {
			continue
		}
		key, ok := episode.Place(e.Key)
		if ok && x.Look != nil && x.has(key) {
			byPlace[key] = append(byPlace[key], e.Event)
			continue
		}
		x.told = append(x.told, episode.Told{Event: e.Event})
	}
	if x.Look == nil {
		return
	}
	for _, at := range x.places {
		x.step(at, p.now, byPlace[at.key])
	}
	x.begun = true
}

func (x *Episodes) has(key alert.Key) bool {
	return slices.ContainsFunc(x.places, func(p *place) bool { return p.key == key })
}

// step follows one place.
func (x *Episodes) step(at *place, now time.Time, events []alert.Event) {
	if len(events) == 0 && !at.busy && !slices.ContainsFunc(at.entries, func(e *entry) bool { return e.True }) {
		return // most steps of most places are this
	}
	alarms := make([]alert.Alarm, len(at.entries))
	for i, e := range at.entries {
		alarms[i] = e.Alarm
	}
	falls := false
	look := func(side alert.Side) episode.Situation {
		if side == "" {
			return episode.Situation{Value: math.NaN(), Inside: true, Back: true}
		}
		s, _ := x.Look(at.key, side)
		return s
	}
	if episode.OfTemperature(at.key) {
		_, falls = x.Look(at.key, alert.TooCold)
	}
	was := at.record.Stored()
	if !x.begun && len(events) == 0 && at.record == (episode.Record{}) {
		at.setRecord(episode.Adopt(now, alarms, falls, look))
	} else {
		next, told := at.record.Step(now, alarms, events, falls, look)
		at.setRecord(next)
		x.told = append(x.told, told...)
	}
	at.dirty = at.dirty || at.record.Stored() != was
}

// changed are the records that the journal does not have yet, as it stores them.
func (x *Episodes) changed() (all []alert.Alarm) {
	for _, p := range x.places {
		if !p.dirty {
			continue
		}
		a := alert.New(p.key, alert.Limit{})
		if p.record != (episode.Record{}) {
			a.Episode, _ = json.Marshal(p.record) // it holds numbers, texts and times
		}
		all = append(all, a)
	}
	return all
}

// written notes that the journal has what changed gave.
func (x *Episodes) written() {
	for _, p := range x.places {
		p.dirty = false
	}
}

// shift moves the times that are not before a time.
func (x *Episodes) shift(since time.Time, by time.Duration) {
	for _, p := range x.places {
		if p.record != (episode.Record{}) {
			p.setRecord(p.record.Shift(since, by))
			p.dirty = true
		}
	}
}

// forget drops the records of places that have no alarms, and gives the texts of their keys.
func (x *Episodes) forget() (keys []string) {
	for key := range x.loaded {
		keys = append(keys, key.String())
	}
	clear(x.loaded)
	slices.SortFunc(keys, cmp.Compare[string])
	return keys
}
