package sensor_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/sensortest"
)

const every, limit = 10 * time.Second, 2 * time.Second

// station collects what a poller delivers in a bubble of simulated time.
type station struct {
	mu      sync.Mutex
	batches map[string][]sensor.Batch // by bus
	poller  *sensor.Poller
	began   time.Time
}

// poll runs a poller for so long.
func poll(t *testing.T, buses []sensor.Bus, long time.Duration, during func(*station)) *station {
	s := &station{batches: map[string][]sensor.Batch{}, began: time.Now()}
	s.poller = &sensor.Poller{
		Buses: buses, Every: every, Limit: limit, Boot: 3,
		Uptime: func() time.Duration { return time.Since(s.began) },
		Deliver: func(_ context.Context, b sensor.Batch) {
			s.mu.Lock()
			defer s.mu.Unlock()
			s.batches[b.Bus] = append(s.batches[b.Bus], b)
		},
	}
	ctx, cancel := context.WithTimeout(t.Context(), long)
	defer cancel()
	if during != nil {
		go during(s)
	}
	if err := s.poller.Run(ctx); err != nil {
		t.Fatal(err)
	}
	return s
}

// causes is what became of a probe, poll by poll.
func (s *station) causes(bus, probe string) []sensor.Cause {
	var cs []sensor.Cause
	for _, b := range s.batches[bus] {
		for _, r := range b.Readings {
			if r.Probe == probe {
				cs = append(cs, r.Cause)
			}
		}
	}
	return cs
}

func same[T any](t *testing.T, what string, got, want []T) {
	t.Helper()
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("%s: %v, want %v", what, got, want)
	}
}

func TestAFailingProbeDoesNotStopItsNeighbours(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		a := sensortest.NewScript(t, "a", sensortest.At(23, .5), sensortest.Broken(sensor.BadFrame), sensortest.At(23.1, .5))
		b := sensortest.NewScript(t, "b", sensortest.At(24, .6), sensortest.At(24.1, .6), sensortest.At(24.2, .6))
		s := poll(t, []sensor.Bus{sensortest.Bus("i2c", a, b)}, 25*time.Second, nil)
		same(t, "a", s.causes("i2c", "a"), []sensor.Cause{"", sensor.BadFrame, ""})
		same(t, "b", s.causes("i2c", "b"), []sensor.Cause{"", "", ""})
		for i, batch := range s.batches["i2c"] {
			if batch.Err != nil {
				t.Errorf("poll %d: the bus is said to be gone: %v", i, batch.Err)
			}
			for _, r := range batch.Readings {
				if want := (sensor.Stamp{Boot: 3, Uptime: time.Duration(i) * every}); r.Stamp != want {
					t.Errorf("poll %d: %s is stamped %v, want %v", i, r.Probe, r.Stamp, want)
				}
				if (r.Cause == "") == math.IsNaN(r.Celsius) {
					t.Errorf("poll %d: %s: cause %q beside %v", i, r.Probe, r.Cause, r.Celsius)
				}
			}
		}
		if err := s.batches["i2c"][1].Errs[0]; sensor.CauseOf(err) != sensor.BadFrame {
			t.Errorf("the probe's own words are lost: %v", err)
		}
	})
}

func TestAProbeThatHangsForEver(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		// Eight probes on three buses; the third of the first bus never answers.
		const polls = 60
		good := func(name string) *sensortest.Script {
			steps := make([]sensortest.Step, polls)
			for i := range steps {
				steps[i] = sensortest.At(24, .5)
			}
			return sensortest.NewScript(t, name, steps...)
		}
		// It is tried at polls 0, 1, 3, 7, 15, 31: each try leaves a goroutine.
		hung := sensortest.NewScript(t, "p3", sensortest.Hung(), sensortest.Hung(), sensortest.Hung(), sensortest.Hung(), sensortest.Hung(), sensortest.Hung())
		s := poll(t, []sensor.Bus{
			sensortest.Bus("one", good("p1"), good("p2"), hung, good("p4")),
			sensortest.Bus("two", good("p5"), good("p6")),
			sensortest.Bus("three", good("p7"), good("p8")),
		}, (polls-1)*every+every/2, nil)
		for bus, batches := range s.batches {
			last := map[string]time.Duration{}
			for _, b := range batches {
				for _, r := range b.Readings {
					if r.Probe == "p3" {
						if r.Cause != sensor.NoAnswer || !math.IsNaN(r.Celsius) {
							t.Errorf("the hung probe gave %+v", r)
						}
						continue
					}
					if r.Cause != "" {
						t.Errorf("bus %s: %s is refused as %s", bus, r.Probe, r.Cause)
					}
					if gap := r.Uptime - last[r.Probe]; gap > 2*every {
						t.Errorf("bus %s: %s went %v without a reading, more than one poll late", bus, r.Probe, gap)
					}
					last[r.Probe] = r.Uptime
				}
			}
			if len(batches) != polls {
				t.Errorf("bus %s was polled %d times, want %d", bus, len(batches), polls)
			}
		}
		hung.Release()
	})
}

func TestATransferThatComesBackLateIsDroppedAndTheProbeTriedAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		late := sensortest.At(99, .9)
		late.Hang = true
		p := sensortest.NewScript(t, "p", late, late, sensortest.At(24, .5))
		q := sensortest.NewScript(t, "q", sensortest.At(23, .5), sensortest.At(23, .5), sensortest.At(23, .5))
		bus := sensortest.Bus("i2c", p, q)
		opened := count(&bus, nil)
		s := poll(t, []sensor.Bus{bus}, 25*time.Second, func(*station) {
			<-time.After(15 * time.Second) // simulated
			p.Release()
		})
		same(t, "p", s.causes("i2c", "p"), []sensor.Cause{sensor.NoAnswer, sensor.NoAnswer, ""})
		same(t, "q", s.causes("i2c", "q"), []sensor.Cause{"", "", ""})
		if r := s.batches["i2c"][2].Readings[0]; r.Celsius != 24 {
			t.Errorf("p reads %v after it came back, want 24", r.Celsius)
		}
		if n := opened(); n != 3 {
			t.Errorf("the bus was opened %d times, want 3: again after each hung transfer", n)
		}
	})
}

func TestADriverThatHeedsItsContextKeepsTheBusOpen(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := sensortest.NewScript(t, "p", sensortest.Step{Wait: true}, sensortest.At(24, .5))
		q := sensortest.NewScript(t, "q", sensortest.At(23, .5), sensortest.At(23, .5))
		bus := sensortest.Bus("i2c", p, q)
		opened := count(&bus, nil)
		s := poll(t, []sensor.Bus{bus}, 15*time.Second, nil)
		same(t, "p", s.causes("i2c", "p"), []sensor.Cause{sensor.NoAnswer, ""})
		if n := opened(); n != 1 {
			t.Errorf("the bus was opened %d times, want once", n)
		}
	})
}

// count counts the openings of a bus, which fail for as long as fail says so.
func count(b *sensor.Bus, fail func(n int) error) func() int {
	var mu sync.Mutex
	n := 0
	open := b.Open
	b.Open = func(ctx context.Context) ([]sensor.Probe, func() error, error) {
		mu.Lock()
		n++
		i := n
		mu.Unlock()
		if fail != nil {
			if err := fail(i); err != nil {
				return nil, nil, err
			}
		}
		return open(ctx)
	}
	return func() int {
		mu.Lock()
		defer mu.Unlock()
		return n
	}
}

func TestABusGoneIsOneEventAndComesBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		gone := sensortest.Broken(sensor.NoAnswer)
		a := sensortest.NewScript(t, "a", sensortest.At(23, .5), gone, sensortest.At(23, .5))
		b := sensortest.NewScript(t, "b", sensortest.At(24, .5), gone, sensortest.At(24, .5))
		bus := sensortest.Bus("usb", a, b)
		opened := count(&bus, func(n int) error {
			if n == 2 || n == 3 {
				return errors.New("no such device")
			}
			return nil
		})
		s := poll(t, []sensor.Bus{bus}, 45*time.Second, nil)
		want := []sensor.Cause{"", sensor.BusGone, sensor.BusGone, sensor.BusGone, ""}
		same(t, "a", s.causes("usb", "a"), want)
		same(t, "b", s.causes("usb", "b"), want)
		for i, batch := range s.batches["usb"] {
			if (batch.Err != nil) != (want[i] != "") {
				t.Errorf("poll %d: the bus's error is %v", i, batch.Err)
			}
		}
		if n := opened(); n != 4 {
			t.Errorf("the bus was opened %d times, want 4: once a poll while it is gone", n)
		}
	})
}

// A bus that connects by itself stays open while none of its probes answers.
func TestABusThatIsKeptOpen(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		silent := sensortest.Broken(sensor.NoAnswer)
		a := sensortest.NewScript(t, "a", silent, silent, sensortest.At(23, .5))
		bus := sensortest.Bus("broker", a)
		bus.KeepOpen = true
		opened := count(&bus, func(int) error { return nil })
		s := poll(t, []sensor.Bus{bus}, 25*time.Second, nil)
		same(t, "a", s.causes("broker", "a"), []sensor.Cause{sensor.NoAnswer, sensor.NoAnswer, ""})
		if n := opened(); n != 1 {
			t.Errorf("the bus was opened %d times", n)
		}
	})
}

func TestABusWhoseOpeningHangs(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		free := make(chan struct{})
		closed := make(chan struct{}, 1)
		slow := sensor.Bus{Name: "slow", Names: []string{"x", "y"}, Open: func(context.Context) ([]sensor.Probe, func() error, error) {
			<-free
			p := sensortest.NewScript(t, "x").Probe()
			return []sensor.Probe{p, p}, func() error { closed <- struct{}{}; return nil }, nil
		}}
		good := sensortest.NewScript(t, "g", sensortest.At(24, .5), sensortest.At(24, .5))
		s := poll(t, []sensor.Bus{slow, sensortest.Bus("good", good)}, 15*time.Second, nil)
		same(t, "x", s.causes("slow", "x"), []sensor.Cause{sensor.BusGone, sensor.BusGone})
		same(t, "g", s.causes("good", "g"), []sensor.Cause{"", ""})
		close(free)
		<-closed // opened too late: closed, not kept
	})
}

func TestABusThatIsNotPolledIsLate(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		steps := make([]sensortest.Step, 6)
		for i := range steps {
			steps[i] = sensortest.At(24, .5)
		}
		good := sensortest.NewScript(t, "g", steps...)
		held := sensortest.NewScript(t, "h", sensortest.At(24, .5))
		s := &station{began: time.Now()}
		free := make(chan struct{})
		s.poller = &sensor.Poller{
			Buses: []sensor.Bus{sensortest.Bus("good", good), sensortest.Bus("held", held)}, Every: every, Limit: limit,
			Uptime: func() time.Duration { return time.Since(s.began) },
			Deliver: func(_ context.Context, b sensor.Batch) {
				if b.Bus == "held" {
					<-free
				}
			},
		}
		ctx, cancel := context.WithCancel(t.Context())
		done := make(chan error)
		go func() { done <- s.poller.Run(ctx) }()
		<-time.After(30 * time.Second) // simulated
		same(t, "late after three polls", s.poller.Late(), nil)
		<-time.After(25 * time.Second) // simulated
		same(t, "late after five", s.poller.Late(), []string{"held"})
		if at := s.poller.Polled(); at["good"] != 50*time.Second || at["held"] != 0 {
			t.Errorf("polled at %v", at)
		}
		cancel()
		close(free)
		if err := <-done; err != nil {
			t.Error(err)
		}
	})
}

func TestAPollerSetUpWronglySaysSo(t *testing.T) {
	up := func() time.Duration { return 0 }
	deliver := func(context.Context, sensor.Batch) {}
	open := func(context.Context) ([]sensor.Probe, func() error, error) { return nil, nil, nil }
	for fault, p := range map[string]*sensor.Poller{
		"no interval":       {Uptime: up, Deliver: deliver},
		"no clock":          {Every: every, Deliver: deliver},
		"nobody to tell":    {Every: every, Uptime: up},
		"a nameless bus":    {Every: every, Uptime: up, Deliver: deliver, Buses: []sensor.Bus{{Open: open}}},
		"two of one name":   {Every: every, Uptime: up, Deliver: deliver, Buses: []sensor.Bus{{Name: "a", Open: open}, {Name: "a", Open: open}}},
		"no way to open it": {Every: every, Uptime: up, Deliver: deliver, Buses: []sensor.Bus{{Name: "a"}}},
	} {
		if err := p.Run(t.Context()); err == nil {
			t.Errorf("%s: no error", fault)
		}
	}
}

func TestCauseOf(t *testing.T) {
	for _, c := range []struct {
		err  error
		want sensor.Cause
	}{
		{nil, ""},
		{errors.New("anything"), sensor.NoAnswer},
		{fmt.Errorf("a: %w", sensor.Fail(sensor.BadFrame, "b")), sensor.BadFrame},
		{sensor.Fail(sensor.PowerOn, "c: %w", context.Canceled), sensor.PowerOn},
	} {
		if got := sensor.CauseOf(c.err); got != c.want {
			t.Errorf("cause of %v is %q, want %q", c.err, got, c.want)
		}
	}
	if !errors.Is(sensor.Fail(sensor.NoAnswer, "c: %w", context.Canceled), context.Canceled) {
		t.Error("a fault hides what it wraps")
	}
}
