package rebuild_test

import (
	"errors"
	"slices"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/rebuild"
)

var (
	errBusy    = errors.New("busy")
	errDamaged = errors.New("damaged")
	began      = time.Date(2026, 4, 2, 19, 0, 0, 0, time.UTC)
)

// list is a value that follows numbers; one that is not larger than its last is left out.
type list struct{ all []int }

func (l *list) step(n int) {
	if len(l.all) == 0 || n > l.all[len(l.all)-1] {
		l.all = append(l.all, n)
	}
}

// bench is a runner whose worker runs when the test says so.
type bench struct {
	rebuild.Runner
	now      time.Time
	jobs     []func() func()
	reported []error
}

func newBench() *bench {
	b := &bench{now: began}
	b.Worker = func(job func() func()) { b.jobs = append(b.jobs, job) }
	b.Now = func() time.Time { return b.now }
	b.Final = func(err error) bool { return errors.Is(err, errDamaged) }
	b.Report = func(err error) { b.reported = append(b.reported, err) }
	return b
}

// work runs all jobs and uses their results.
func (b *bench) work() {
	for len(b.jobs) > 0 {
		job := b.jobs[0]
		b.jobs = b.jobs[1:]
		job()()
	}
}

// after lets time pass and starts what is due.
func (b *bench) after(d time.Duration) {
	b.now = b.now.Add(d)
	b.Step()
	b.work()
}

func newList() *rebuild.Value[*list, int] {
	return rebuild.NewValue(&list{}, func(l *list, n int) { l.step(n) })
}

// from is a job that gives numbers and an error that may change.
func from(numbers *[]int, err *error) func(time.Time) func() ([]*list, error) {
	return func(time.Time) func() ([]*list, error) {
		return func() ([]*list, error) { return []*list{{all: slices.Clone(*numbers)}}, *err }
	}
}

func TestQueueWhileItIsBuilt(t *testing.T) {
	b, v := newBench(), newList()
	stored, failed, done := []int{1, 2, 3}, error(nil), 0
	v.Observe(3)
	rebuild.Build(&b.Runner, from(&stored, &failed), func() { done++ }, v)
	v.Observe(3) // it is stored already
	v.Observe(4)
	if got := v.Get().all; !slices.Equal(got, []int{3, 4}) || v.Ready() || !b.Busy() {
		t.Errorf("before: %v, ready %v, busy %v; want what arrived, not ready, busy", got, v.Ready(), b.Busy())
	}
	b.work()
	v.Observe(5)
	if got := v.Get().all; !slices.Equal(got, []int{1, 2, 3, 4, 5}) || !v.Ready() || b.Busy() || done != 1 {
		t.Errorf("after: %v, ready %v, busy %v, done %d; want all, ready, idle, once", got, v.Ready(), b.Busy(), done)
	}
}

// A result without a damaged record is used at once; the damage is reported once.
func TestDamageIsFinal(t *testing.T) {
	b, v := newBench(), newList()
	stored, failed := []int{1, 3}, errors.Join(errDamaged, errors.Join(errDamaged))
	rebuild.Build(&b.Runner, from(&stored, &failed), func() {}, v)
	b.work()
	b.after(time.Hour)
	if got := v.Get().all; !slices.Equal(got, stored) || !v.Ready() || b.Busy() || len(b.reported) != 2 || b.Failing() != nil {
		t.Errorf("got %v, ready %v, busy %v, reported %v, failing %v", got, v.Ready(), b.Busy(), b.reported, b.Failing())
	}
}

// What cannot be read is tried again after 1, 2 and 4 minutes. Then the result is used as
// far as it goes, and tried again each ten minutes.
func TestTries(t *testing.T) {
	b, v := newBench(), newList()
	stored, failed := []int{1}, errBusy
	rebuild.Build(&b.Runner, from(&stored, &failed), func() {}, v)
	b.work()
	for i, d := range []time.Duration{time.Minute, 2 * time.Minute} {
		b.after(d - time.Second)
		if len(b.reported) != i+1 {
			t.Fatalf("%v after try %d there were %d tries", d-time.Second, i+1, len(b.reported))
		}
		b.after(time.Second)
		if len(b.reported) != i+2 || v.Ready() || b.Failing() != nil {
			t.Fatalf("%v after try %d there were %d tries; ready %v", d, i+1, len(b.reported), v.Ready())
		}
	}
	v.Observe(2)
	stored = []int{1, 2} // what arrived before a try is stored
	b.after(4 * time.Minute)
	if !v.Ready() || !errors.Is(b.Failing(), errBusy) || !slices.Equal(v.Get().all, stored) {
		t.Fatalf("after four tries: ready %v, failing %v, %v", v.Ready(), b.Failing(), v.Get().all)
	}
	v.Observe(3)
	stored, failed = []int{0, 1, 2, 3}, nil
	b.after(10*time.Minute - time.Second)
	if b.Failing() == nil {
		t.Fatal("tried within ten minutes")
	}
	b.after(time.Second)
	if got := v.Get().all; b.Failing() != nil || b.Busy() || !slices.Equal(got, stored) {
		t.Errorf("once it can be read: %v, failing %v, busy %v", got, b.Failing(), b.Busy())
	}
}

// A result that is used once is not used again, whether it was whole or not.
func TestOnce(t *testing.T) {
	for _, x := range []struct {
		fails int
		used  int // at which try
	}{{0, 1}, {2, 3}, {100, 4}} {
		b := newBench()
		tries, used := 0, 0
		b.Once(func(time.Time) func() (func(), error) {
			return func() (func(), error) {
				tries++
				var err error
				if tries <= x.fails {
					err = errBusy
				}
				return func() { used++ }, err
			}
		})
		b.work()
		for range 200 {
			b.after(time.Minute)
		}
		if used != 1 || tries != x.used || b.Busy() {
			t.Errorf("with %d failures: used %d times, after %d tries, busy %v; want once after %d", x.fails, used, tries, b.Busy(), x.used)
		}
	}
}

// A value that is built again, or dropped, does not take the result of before, and the
// tries for it end.
func TestOverdueResults(t *testing.T) {
	b, v, w := newBench(), newList(), newList()
	old, failed := []int{1}, errBusy
	rebuild.Build(&b.Runner, from(&old, &failed), func() {}, v)
	b.work()
	rebuild.Build(&b.Runner, from(&old, &failed), func() {}, w)
	b.work()
	fresh, none := []int{7}, error(nil)
	rebuild.Build(&b.Runner, from(&fresh, &none), func() {}, v)
	w.Drop()
	b.work()
	for range 100 {
		b.after(time.Minute)
	}
	if got := v.Get().all; !slices.Equal(got, fresh) || w.Ready() || b.Busy() || len(b.reported) != 2 {
		t.Errorf("got %v, dropped ready %v, busy %v, %d tries failed", got, w.Ready(), b.Busy(), len(b.reported))
	}
}

// The clock that is set moves the next try with it.
func TestShift(t *testing.T) {
	b, v := newBench(), newList()
	stored, failed := []int{1}, errBusy
	rebuild.Build(&b.Runner, from(&stored, &failed), func() {}, v)
	b.work()
	b.Shift(-time.Hour)
	b.now = b.now.Add(-time.Hour)
	b.after(time.Minute)
	if len(b.reported) != 2 {
		t.Errorf("%d tries, want the second a minute after the first", len(b.reported))
	}
}
