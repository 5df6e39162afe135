// Package waterloss owns what boxes probably lost since they were last weighed or watered: it
// joins their weighings in the book to the hours of the humidity around them. It reads the
// hours as they are stored, once for the past and then each hour, so that a restart computes
// the same. It must not know an alarm, a message or a page.
package waterloss

import (
	"errors"
	"maps"
	"math"
	"slices"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/station/care"
	"example.com/ootherm/cmd/ootherm/internal/station/pastreadings"
	"example.com/ootherm/sensor/air"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/husbandry"
	"example.com/ootherm/thermal/drying"
)

const (
	// settledAfter is how old an hour is when the readings that share an hour of uptime with it
	// are all there.
	settledAfter = time.Hour
	// maxPast is how far back the air is read (our choice): a season.
	maxPast = 366 * 24 * time.Hour
	// foretellsFromG is from which computed loss on a weighing would show one (our choice): what
	// the scale may be wrong by in two weighings.
	foretellsFromG = 2 * care.ScaleErrorG
	// slowShare is how much of its water a box may lose in a week without drying fast (our
	// choice): a weekly top-up makes good so much.
	slowShare = husbandry.DryShare / 2
)

// Losses are the losses of all boxes in use. One goroutine calls the methods.
type Losses struct {
	plan plan.Plan
	past *pastreadings.Past
	care *care.Care

	air     map[string]*drying.Air // by zone; nil: it was not read
	probes  map[string][]string    // that it was read of
	reading int                    // the number of the read under way; 0: there is none
	reads   int                    // so far

	made    made
	updates int
	work    care.Work
	boxes   map[string]Box
}

// made is what the losses were last computed of.
type made struct {
	book book.Book
	care time.Time
	hour time.Time // the last whole one
	air  time.Time // up to which it is known
}

// Box is what is known of the loss of a box whose loss was learned, for its alarm.
type Box struct {
	Tended  time.Time // when it was last weighed or watered
	Unknown bool      // the air since then is not known, or not read yet
	Share   *float64  // of its water, at least so much would be found lost; nil: not known
	Times   float64   // the last day's loss to the usual one here, 0 where it is little; NaN: not known
}

// New makes the losses of a plan.
func New(p plan.Plan, past *pastreadings.Past, c *care.Care) *Losses {
	return &Losses{plan: p, past: past, care: c}
}

// Forget has the air read again, as when its corrections or its times changed.
func (l *Losses) Forget() { l.air, l.reading, l.made = nil, 0, made{} }

// Of is the care of a book at a time, with what boxes probably lost since.
func (l *Losses) Of(b book.Book, now time.Time) care.Work {
	l.update(b, now)
	return l.work
}

// Updates counts how often the losses were computed. While it stays, Of and Box give the same.
func (l *Losses) Updates() int { return l.updates }

// Last is the care of the last call of Of.
func (l *Losses) Last() care.Work { return l.work }

// Box is the loss of a box, as at the last call of Of; false where none was learned.
func (l *Losses) Box(name string) (Box, bool) {
	x, ok := l.boxes[name]
	return x, ok
}

func (l *Losses) update(b book.Book, now time.Time) {
	work := l.care.Of(b, now)
	m := made{book: b, care: work.At, hour: now.Truncate(time.Hour)}
	if l.made.book == b && l.made.care.Equal(m.care) && l.made.hour.Equal(m.hour) && l.made.air.Equal(l.airTo()) {
		return
	}
	weighed := l.weighed(work, now)
	if len(weighed) > 0 {
		l.follow(b, weighed, now)
	}
	m.air = l.airTo()
	l.updates++
	l.made, l.work, l.boxes = m, work, map[string]Box{}
	l.work.Media = maps.Clone(work.Media)
	for _, x := range weighed {
		d, box, ok := l.of(x, m.hour)
		if !ok {
			continue
		}
		l.boxes[x.Box.ID] = box
		if d != nil {
			medium := *work.Media[x.Box.ID]
			medium.Drying = d
			l.work.Media[x.Box.ID] = &medium
		}
	}
}

// weighedBox is a box with enough spans between weighings to learn from.
type weighedBox struct {
	husbandry.BoxCare
	spans []drying.Span
}

func (l *Losses) weighed(work care.Work, now time.Time) (all []weighedBox) {
	for _, x := range work.Boxes {
		spans := slices.DeleteFunc(drying.Spans(x.Box), func(s drying.Span) bool { return now.Sub(s.From) > maxPast })
		if len(spans) >= drying.MinSpans {
			all = append(all, weighedBox{x, spans})
		}
	}
	return all
}

// airTo is up to when the air is known; zero where it was not read.
func (l *Losses) airTo() time.Time {
	for _, a := range l.air {
		return a.To()
	}
	return time.Time{}
}

// follow reads the air that boxes need and that is not known yet.
func (l *Losses) follow(b book.Book, boxes []weighedBox, now time.Time) {
	if l.reading != 0 {
		return
	}
	from, to := now, now.Add(-settledAfter).Truncate(time.Hour)
	probes := map[string][]string{}
	for _, x := range boxes {
		if at := x.spans[0].From; at.Before(from) {
			from = at
		}
		for _, s := range x.Box.Stays {
			if s.Zone != "" && (s.To.IsZero() || s.To.After(x.spans[0].From)) {
				probes[s.Zone] = l.probesOf(b, s.Zone)
			}
		}
	}
	from = from.Truncate(time.Hour)
	whole := false // all of it is to be read
	for name, of := range probes {
		a := l.air[name]
		whole = whole || a == nil || from.Before(a.From()) || !slices.Equal(of, l.probes[name])
	}
	for _, a := range l.air {
		a.Forget(from)
	}
	switch {
	case whole:
		l.probes = probes
		l.read(from, to, false)
	case to.After(l.airTo()):
		l.read(l.airTo(), to, true)
	}
}

// read reads the air of the zones in the worker: in the place of what is known, or to follow
// it.
func (l *Losses) read(from, to time.Time, follows bool) {
	l.reads++
	number, probes := l.reads, l.probes
	l.reading = number
	l.past.Rebuilds.Once(func(time.Time) func() (func(), error) {
		return func() (func(), error) {
			read := map[string]*drying.Air{}
			var failed []error
			for zone, of := range probes {
				read[zone] = drying.NewAir(from, to)
				for _, probe := range of {
					failed = append(failed, readProbe(l.past, read[zone], probe, from, to))
				}
			}
			return func() {
				if l.reading == number {
					l.take(read, follows)
				}
			}, errors.Join(failed...)
		}
	})
}

// readProbe takes the hours of a probe. Those that cannot be read were not measured.
func readProbe(past *pastreadings.Past, a *drying.Air, probe string, from, to time.Time) error {
	var failed []error
	for x, err := range past.Hourly(probe, from, to) {
		if err != nil {
			failed = append(failed, err)
			continue
		}
		if x.Celsius.Count > 0 && x.Humidity.Count > 0 {
			a.Observe(x.From, x.To, air.Deficit(x.Celsius.Mean, x.Humidity.Mean)/1000)
		}
	}
	return errors.Join(failed...)
}

func (l *Losses) take(read map[string]*drying.Air, follows bool) {
	l.reading = 0
	if !follows {
		l.air = read
		return
	}
	for zone, a := range read {
		l.air[zone].Extend(a)
	}
}

// probesOf are the probes of a zone's air. One that was ever in a box is none: it measures the
// air in the box.
func (l *Losses) probesOf(b book.Book, name string) (all []string) {
	i := slices.IndexFunc(l.plan.Zones, func(z plan.Zone) bool { return z.Name == name })
	if i < 0 {
		return nil
	}
	boxed := map[string]bool{}
	for _, x := range b.Boxes() {
		for _, s := range x.Stays {
			boxed[s.Probe] = true
		}
	}
	for _, p := range l.plan.Zones[i].Probes {
		if !boxed[p] && !l.plan.Thermometer(p) {
			all = append(all, p)
		}
	}
	return all
}

// of computes what is known of a box; false where its loss was not learned. Drying is nil until
// the air is read.
func (l *Losses) of(x weighedBox, now time.Time) (*snapshot.Drying, Box, bool) {
	box := Box{Tended: drying.Tended(x.Box), Unknown: true, Times: math.NaN()}
	if l.air == nil {
		return nil, box, true // it may have been learned before the start
	}
	doses := make([]float64, len(x.spans))
	for i, s := range x.spans {
		doses[i] = l.over(x.Box.Stays, s.From, s.To)
	}
	loss, ok := drying.Learn(x.spans, doses, care.ScaleErrorG)
	if !ok {
		return nil, box, false
	}
	d := &snapshot.Drying{
		Loses: loss.GPerKPaHour, LosesLow: loss.Low, LosesHigh: loss.High, Spans: loss.Spans, Since: box.Tended,
		Usual: 24 * loss.GPerKPaHour * loss.UsualKPa,
	}
	d.Now = snapshot.OptFloat(loss.GPerKPaHour * l.over(x.Box.Stays, now.Add(-time.Hour), now))
	lastDay := loss.GPerKPaHour * l.over(x.Box.Stays, now.Add(-24*time.Hour), now)
	box.Times = lastDay / d.Usual
	if moved(x.Box.Stays, x.spans[0].From) {
		box.Times = math.NaN() // its usual loss is not that of the air here
	}
	d.LastDay, d.Times = snapshot.OptFloat(lastDay), snapshot.OptFloat(box.Times)
	if x.Box.WaterG != nil && 7*lastDay < slowShare**x.Box.WaterG {
		box.Times = 0
	}
	left, ok := x.LeftG()
	if dose := l.over(x.Box.Stays, box.Tended, now); ok && !math.IsNaN(dose) {
		lost := func(rate float64) *float64 { return snapshot.OptFloat(min(rate*dose, left)) }
		d.Lost, d.LostLow, d.LostHigh = lost(loss.GPerKPaHour), lost(loss.Low), lost(loss.High)
	}
	weighed := x.Box.Weighings[len(x.Box.Weighings)-1].At
	if dose := l.over(x.Box.Stays, weighed, now); !math.IsNaN(dose) {
		box.Unknown = false
		if share, known := x.ForetoldShare(loss.GPerKPaHour * dose); ok && known && loss.GPerKPaHour*dose >= foretellsFromG {
			box.Share, d.LostShare = &share, &share
		}
	}
	return d, box, true
}

// over is the deficit of the air around a box, summed from one time to another, in kPa h; NaN
// where it is not known.
func (l *Losses) over(stays []book.Stay, from, to time.Time) float64 {
	var sum drying.Dose
	for _, s := range stays {
		a, z := from, to
		if s.From.After(a) {
			a = s.From
		}
		if !s.To.IsZero() && s.To.Before(z) {
			z = s.To
		}
		if !a.Before(z) {
			continue
		}
		sum = sum.Plus(l.air[s.Zone].Over(a, z))
	}
	sum.Hours = to.Sub(from).Hours() // it may have been in no zone for a while
	return sum.Sum()
}

// moved reports whether a box was in another zone than now since a time.
func moved(stays []book.Stay, since time.Time) bool {
	now := stays[len(stays)-1].Zone
	return slices.ContainsFunc(stays, func(s book.Stay) bool { return s.Zone != now && s.To.After(since) })
}
