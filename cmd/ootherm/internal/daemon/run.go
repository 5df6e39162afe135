package daemon

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"net"
	"sync"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/heartbeat"
	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/cmd/ootherm/internal/clock"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/drivers"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/senders"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/sensor"
	systemd "github.com/coreos/go-systemd/v22/daemon"
)

// Run runs the station of a configuration until the context ends.
func Run(ctx context.Context, path string, build Build, log *slog.Logger) error {
	c, err := config.Load(path)
	if err != nil {
		return err
	}
	plan, err := plan.Of(c)
	if err != nil {
		return err
	}
	if err := plan.Watched(path); err != nil {
		return err
	}
	m, err := clock.System()
	if err != nil {
		return err
	}
	wires, err := drivers.Buses(c.Probes, time.Now)
	if err != nil {
		return err
	}
	d, err := Prepare(c, plan, build, m, log)
	if err != nil {
		return err
	}
	return d.Run(ctx, wires, func(net.Addr) {})
}

// Run polls, serves, sends and steps until the context ends or one of these
// cannot go on; then it stops them, the last started first, and makes all that
// is known durable.
func (d *daemon) Run(ctx context.Context, wires []sensor.Bus, listening func(net.Addr)) (err error) {
	if err := Guarded(d.cfg); err != nil {
		return err
	}
	routes, err := senders.RoutesWith(d.cfg, d.plan, d.time.now, d.copies.Attachment)
	if err != nil {
		return err
	}
	beat, err := d.beat()
	if err != nil {
		return err
	}
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	page, err := net.Listen("tcp", d.cfg.Station.Listen)
	if err != nil {
		return fmt.Errorf("the page: %w; is another program there? listen in the configuration says where", err)
	}
	stopPage := Serve(ctx, d.handler, d.failed, page)
	defer stopPage()
	listening(page.Addr())

	var jobs sync.WaitGroup
	stepping, stopStepping := context.WithCancel(context.WithoutCancel(ctx))
	ended := make(chan error, 1)
	go func() { ended <- d.loop.run(stepping) }()
	poller := &sensor.Poller{Buses: wires, Every: d.plan.Every, Uptime: d.time.uptime, Deliver: d.deliver()}
	jobs.Go(func() {
		if err := poller.Run(ctx); err != nil {
			cancel(err)
		}
	})
	defer func() {
		cancel(nil)
		jobs.Wait()
		stopStepping()
		err = errors.Join(err, <-ended, d.close())
	}()

	courierOf := func(k outbox.Keeper, to []outbox.Route) *outbox.Courier {
		return outbox.NewCourier(outbox.Overlay{Keeper: k, State: liveStates(published{d.loop}.Now)}, to, d.time.now, d.attempted)
	}
	d.overflow, routes = outbox.NewOverflow(routes, courierOf)
	s, err := d.open(ctx)
	if err != nil {
		return err
	}
	courier := courierOf(d.outbox, routes)
	d.wake = courier.Wake
	d.loop.ready <- s
	socket, err := ListenSocket(d.cfg.Station.Data)
	if err != nil {
		return err
	}
	stopSocket := Serve(ctx, d.handler, d.failed, socket)
	defer stopSocket()
	jobs.Go(func() { courier.Run(ctx) })
	jobs.Go(func() { d.overflow.Run(ctx) })
	jobs.Go(func() {
		if err := d.keepStates(ctx); err != nil {
			cancel(err)
		}
	})
	jobs.Go(func() { d.copies.Run(ctx, d.failed) })
	jobs.Go(func() { d.prove(ctx, poller, beat) })
	d.notify(systemd.SdNotifyReady)
	d.log.Info("watching", "page", page.Addr().String(), "probes", len(d.plan.Probes), "zones", len(d.plan.Zones))

	<-ctx.Done()
	d.notify(systemd.SdNotifyStopping)
	if cause := context.Cause(ctx); cause != nil && !errors.Is(cause, context.Canceled) {
		return cause
	}
	return nil
}

// deliver hands polled readings to the station, and logs when a bus or a probe goes
// and comes back: one line each, none a poll.
func (d *daemon) deliver() func(context.Context, sensor.Batch) {
	var mu sync.Mutex
	gone := map[string]bool{}
	failed := map[string]int{} // of each probe, polls in a row in which its bus answered and it did not
	dry := map[string]int{}    // likewise, in which it gave a temperature alone, of two
	return func(ctx context.Context, b sensor.Batch) {
		mu.Lock()
		was := gone[b.Bus]
		gone[b.Bus] = b.Err != nil
		for i, r := range b.Readings {
			switch {
			case b.Err != nil: // the bus is told
			case b.Errs[i] != nil:
				if failed[r.Probe]++; failed[r.Probe] == failedReads {
					d.log.Error("a probe gives no value", "probe", r.Probe, "err", b.Errs[i])
				}
			default:
				if failed[r.Probe] >= failedReads {
					d.log.Info("a probe gives values again", "probe", r.Probe)
				}
				failed[r.Probe] = 0
				d.lacks(r, dry)
			}
		}
		mu.Unlock()
		switch {
		case b.Err != nil && !was:
			d.log.Error("a bus does not answer", "bus", b.Bus, "err", b.Err)
		case b.Err == nil && was:
			d.log.Info("a bus answers again", "bus", b.Bus)
		}
		select {
		case d.loop.batches <- b.Readings:
		case <-ctx.Done():
		}
	}
}

// lacks logs when a probe that answers gives no humidity any more, and when it does
// again; dry counts those readings in a row.
func (d *daemon) lacks(r sensor.Reading, dry map[string]int) {
	if math.IsNaN(r.Humidity) && r.Lacking == nil {
		return // nobody says that it measures humidity: it gives none, and lacks none
	}
	if r.Lacking == nil {
		if dry[r.Probe] >= failedReads {
			d.log.Info("a probe gives humidity again", "probe", r.Probe)
		}
		dry[r.Probe] = 0
		return
	}
	if dry[r.Probe]++; dry[r.Probe] == failedReads {
		d.log.Error("a probe gives no humidity", "probe", r.Probe, "err", r.Lacking)
	}
}

// failedReads is how many reads in a row make a probe that gives no value, rather
// than a bad contact; as its screen counts.
const failedReads = 3

// attempted logs what became of an attempt to send.
func (d *daemon) attempted(a outbox.Attempt) {
	d.sent.note(a)
	switch {
	case a.Message.ID == "":
		d.log.Error("the messages that wait cannot be read", "sender", a.Sender, "err", a.Err)
	case a.Err != nil:
		d.log.Error("a message was not delivered", "sender", a.Sender, "message", a.Message.ID, "next", a.Outcome.Next, "err", a.Err)
	case a.Outcome.Result == alert.Dropped:
		d.log.Info("a message is no longer needed", "sender", a.Sender, "message", a.Message.ID)
	default:
		d.log.Info("a message was delivered", "sender", a.Sender, "message", a.Message.ID)
	}
}

func (d *daemon) logEvent(e snapshot.Event) {
	d.log.Info("alarm", "alarm", e.Alarm, "priority", e.Priority, "zone", words.OrEmpty(e.Zone), "probe", words.OrEmpty(e.Probe), "from", e.From, "to", e.To)
}

func (d *daemon) beat() (*heartbeat.Beat, error) {
	if d.cfg.Station.Heartbeat == nil {
		return nil, nil
	}
	b, err := heartbeat.New(d.cfg.Station.Heartbeat.URL)
	if err != nil {
		return nil, usererr.Usage(err)
	}
	return b, nil
}

// prove shows that the station works for as long as it does: to systemd, and to
// a watcher elsewhere.
func (d *daemon) prove(ctx context.Context, poller *sensor.Poller, beat *heartbeat.Beat) {
	tick := time.NewTicker(min(d.plan.Every, 10*time.Second))
	defer tick.Stop()
	var beaten time.Duration
	failing := false
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		n := published{d.loop}.Now()
		if n == nil || len(poller.Late()) > 0 || d.time.now().Sub(n.At) > 3*max(d.plan.Every, 10*time.Second) {
			continue // nothing is proved: a bus or the station itself hangs, or is not there yet
		}
		d.notify(systemd.SdNotifyWatchdog)
		up := d.time.uptime()
		if beat == nil || !well(n) || beaten != 0 && up-beaten < d.cfg.Station.Heartbeat.Every {
			continue
		}
		beaten = up
		err := beat.Send(ctx)
		if err != nil && !failing && ctx.Err() == nil {
			d.log.Error("the heartbeat does not get out", "err", err)
		}
		failing = err != nil
	}
}

// well reports whether all is well with the station itself and its probes.
func well(n *snapshot.Snapshot) bool {
	if !n.Health.Polled || len(n.Health.Silent) > 0 || n.Health.FlushFailing {
		return false
	}
	for _, z := range n.Zones {
		if z.Celsius == nil {
			return false
		}
	}
	return true
}

func (d *daemon) notify(state string) {
	if _, err := systemd.SdNotify(false, state); err != nil {
		d.log.Error("systemd could not be told", "state", state, "err", err)
	}
}
