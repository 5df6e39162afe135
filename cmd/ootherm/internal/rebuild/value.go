package rebuild

import "time"

// Value is a T that follows events as they arrive and is rebuilt from stored data
// beside that. While it is rebuilt the present one goes on, and the events are queued
// for the one to come. T is a pointer or a map. A T must ignore an event that it has
// already: the last events before a rebuild may come to it twice.
type Value[T, E any] struct {
	current  T
	step     func(T, E)
	ready    bool
	building bool
	ticket   int // of the last rebuild that was begun
	queue    []E
}

// NewValue begins with an initial T. Step adds an event to a T.
func NewValue[T, E any](initial T, step func(T, E)) *Value[T, E] {
	return &Value[T, E]{current: initial, step: step}
}

// Observe adds an event.
func (v *Value[T, E]) Observe(e E) {
	v.step(v.current, e)
	if v.building {
		v.queue = append(v.queue, e)
	}
}

// Get is the present T.
func (v *Value[T, E]) Get() T { return v.current }

// Ready reports whether the present T was rebuilt from stored data.
func (v *Value[T, E]) Ready() bool { return v.ready }

// Drop ends the tries of a value that is not used any more.
func (v *Value[T, E]) Drop() {
	v.ticket++
	v.building, v.queue = false, nil
}

func (v *Value[T, E]) begin() (ticket int) {
	v.Drop()
	v.building = true
	return v.ticket
}

// swap puts a rebuilt T in place and adds what was queued.
func (v *Value[T, E]) swap(ticket int, rebuilt T) {
	if v.ticket != ticket {
		return
	}
	v.current, v.ready = rebuilt, true
	queue := v.queue
	v.building, v.queue = false, nil
	for _, e := range queue {
		v.step(v.current, e)
	}
}

// Build rebuilds values with one job. Job is called as [Job] is, and what it returns
// gives a T for each value, in their order. Done is called after each swap. A later
// Build or [Value.Drop] of a value leaves this one's result unused.
func Build[T, E any](r *Runner, job func(upTo time.Time) (read func() ([]T, error)), done func(), values ...*Value[T, E]) {
	tickets := make([]int, len(values))
	for i, v := range values {
		tickets[i] = v.begin()
	}
	wanted := func() bool {
		for i, v := range values {
			if v.ticket == tickets[i] {
				return true
			}
		}
		return false
	}
	first := true
	r.try(&task{wanted: wanted, job: func(upTo time.Time) func() (func(), error) {
		for i, v := range values {
			if !first && v.ticket == tickets[i] {
				tickets[i] = v.begin()
			}
		}
		first = false
		read := job(upTo)
		return func() (func(), error) {
			rebuilt, err := read()
			return func() {
				for i, v := range values {
					v.swap(tickets[i], rebuilt[i])
				}
				done()
			}, err
		}
	}})
}
