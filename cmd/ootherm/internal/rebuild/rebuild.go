// Package rebuild computes values from stored data beside the goroutine that uses them,
// and swaps them in. It owns the tries, the pauses between them and the queue of what
// arrives meanwhile. It must not know what is computed, or where the data is stored.
package rebuild

import (
	"slices"
	"time"
)

// Pauses between the tries of a job whose data cannot be read. After the last of
// triesPauses its result is used as far as it goes, and it is tried again each
// retryPause. All are our choice: a minute is longer than a busy card takes.
var triesPauses = [...]time.Duration{time.Minute, 2 * time.Minute, 4 * time.Minute}

const retryPause = 10 * time.Minute

// Runner runs jobs in a worker. One goroutine calls its methods.
type Runner struct {
	// Worker runs a job beside the caller; the caller then runs what the job returns.
	Worker func(job func() (apply func()))
	// Now is the caller's time.
	Now func() time.Time
	// Final reports whether reading again gives the same error, as it does for a
	// damaged record. A result with such errors alone is used at once.
	Final func(error) bool
	// Report takes each error of each try.
	Report func(error)

	running int
	waiting []*task         // for their next try
	partial map[*task]error // tasks whose result was used although an error may pass
}

// Job is what a task does. It is called by the caller's goroutine at each try, with the
// time up to which the stored data counts; what it returns runs in the worker. That
// gives the result as far as it goes, also beside an error; several errors are joined
// with errors.Join.
type Job func(upTo time.Time) (read func() (apply func(), err error))

type task struct {
	job    Job
	wanted func() bool
	once   bool // the result is used once
	tries  int
	due    time.Time
}

// Once runs a job whose result is used once: when the data could be read, or after the
// tries as far as it goes.
func (r *Runner) Once(job Job) {
	r.try(&task{job: job, wanted: func() bool { return true }, once: true})
}

// Step starts the tries that are due.
func (r *Runner) Step() {
	now := r.Now()
	var due []*task
	r.waiting = slices.DeleteFunc(r.waiting, func(t *task) bool {
		if t.due.After(now) {
			return false
		}
		due = append(due, t)
		return true
	})
	for _, t := range due {
		if t.wanted() {
			r.try(t)
		} else {
			delete(r.partial, t)
		}
	}
}

// Shift moves the times of the next tries when the caller's clock is set.
func (r *Runner) Shift(by time.Duration) {
	for _, t := range r.waiting {
		t.due = t.due.Add(by)
	}
}

// Busy reports whether a result is still to come.
func (r *Runner) Busy() bool { return r.running > 0 || len(r.waiting) > 0 }

// Failing is an error because of which a result had to be used as far as it goes, for
// as long as tries go on; nil if there is none.
func (r *Runner) Failing() error {
	for _, err := range r.partial {
		return err
	}
	return nil
}

func (r *Runner) try(t *task) {
	r.running++
	read := t.job(r.Now())
	r.Worker(func() func() {
		apply, err := read()
		return func() {
			r.running--
			r.finish(t, apply, err)
		}
	})
}

// finish uses a result, or waits for the next try.
func (r *Runner) finish(t *task, apply func(), err error) {
	if !t.wanted() {
		delete(r.partial, t)
		return
	}
	var passing error
	for _, e := range Errors(err) {
		r.Report(e)
		if !r.Final(e) {
			passing = e
		}
	}
	if passing == nil {
		delete(r.partial, t)
		apply()
		return
	}
	pause := retryPause
	if t.tries < len(triesPauses) {
		pause = triesPauses[t.tries]
	} else {
		apply()
		if t.once {
			return
		}
		if r.partial == nil {
			r.partial = map[*task]error{}
		}
		r.partial[t] = passing
	}
	t.tries++
	t.due = r.Now().Add(pause)
	r.waiting = append(r.waiting, t)
}

// Errors are the errors that errors.Join joined; none for nil.
func Errors(err error) []error {
	if err == nil {
		return nil
	}
	joined, ok := err.(interface{ Unwrap() []error })
	if !ok {
		return []error{err}
	}
	var all []error
	for _, e := range joined.Unwrap() {
		all = append(all, Errors(e)...)
	}
	return all
}
