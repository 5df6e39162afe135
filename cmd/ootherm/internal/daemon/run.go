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
	"example.com/ootherm/cmd/ootherm/internal/dialer"
	"example.com/ootherm/cmd/ootherm/internal/listener"
	"example.com/ootherm/cmd/ootherm/internal/logging"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/senders"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/sensor"
	systemd "github.com/coreos/go-systemd/v22/daemon"
)

// Run runs the station that the configuration file at path describes, until the context
// ends.
func Run(ctx context.Context, path string, build Build, log *slog.Logger) error {
	limitMemory()
	c, err := config.Load(path, probeconfig.Drivers())
	if err != nil {
		return err
	}
	setReachableURL(&c.Station, NetworkAddresses())
	plan, err := plan.FromConfig(c)
	if err != nil {
		return err
	}
	if err := plan.RequireProbes(path); err != nil {
		return err
	}
	if err := RequirePassphrase(path, c); err != nil {
		return err
	}
	if err := listener.CheckDescriptors(); err != nil {
		return usererr.Usage(err)
	}
	m, err := clock.System()
	if err != nil {
		return err
	}
	d, err := Prepare(c, plan, build, m, log)
	if err != nil {
		return err
	}
	buses, err := probeconfig.Buses(c.Probes, time.Now, d.dialer)
	if err != nil {
		return err
	}
	return d.Run(ctx, buses, d.ServePage)
}

// ServePage serves the page at the configured address, until stop is called.
func (d *daemon) ServePage(ctx context.Context) (at net.Addr, stop func(), err error) {
	page, err := net.Listen("tcp", d.cfg.Station.Listen)
	if err != nil {
		return nil, nil, fmt.Errorf("the page: %w; is another program there? listen in the configuration says where", err)
	}
	return page.Addr(), listener.Serve(ctx, d.handler, d.logFailure, page), nil
}

// Run polls, serves, sends and steps until the context ends or one of these cannot go on.
// Then it stops them in reverse order and makes all readings durable. It calls page once, to
// serve the page until stop is called.
func (d *daemon) Run(ctx context.Context, buses []sensor.Bus, page func(context.Context) (at net.Addr, stop func(), err error)) (err error) {
	routes, err := senders.RoutesWith(d.cfg, d.plan, d.time.now, d.dialer, d.bookBackup.Attachment)
	if err != nil {
		return err
	}
	d.sending.routes = routes
	beat, err := d.newHeartbeat()
	if err != nil {
		return err
	}
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	at, stopPage, err := page(ctx)
	if err != nil {
		return err
	}
	defer stopPage()

	var jobs sync.WaitGroup
	stepping, stopStepping := context.WithCancel(context.WithoutCancel(ctx))
	ended := make(chan error, 1)
	go func() { ended <- d.loop.run(stepping) }()
	poller := &sensor.Poller{Buses: buses, Every: d.plan.Every, Uptime: d.time.uptime, Deliver: d.deliverTo()}
	jobs.Go(func() {
		if err := poller.Run(ctx); err != nil {
			cancel(err)
		}
	})
	defer func() {
		cancel(nil)
		jobs.Wait()
		if d.history != nil {
			d.history.MarkChecked()
		}
		stopStepping()
		err = errors.Join(err, <-ended, d.close())
	}()

	courierOf := func(k outbox.Keeper, to []outbox.Route) *outbox.Courier {
		return outbox.NewCourier(outbox.Overlay{Keeper: k, State: liveStates(stateSource{d.loop}.Now)}, to, d.time.now, d.recordAttempt)
	}
	receivers := senders.Receivers(routes)
	d.sending.overflow, routes = outbox.NewOverflow(routes, courierOf)
	undo := collectLess()
	s, err := d.openInTime(ctx)
	undo()
	if err != nil {
		return err
	}
	courier := courierOf(d.outbox, routes)
	d.sending.wake = courier.Wake
	// The socket first: whoever sees that the station is well finds it as it stays.
	socket, err := ListenSocket(d.cfg.Station.Data)
	if err != nil {
		return err
	}
	d.loop.ready <- s
	stopSocket := listener.Serve(ctx, d.handler, d.logFailure, socket)
	defer stopSocket()
	endPresence, err := showPresence(d.cfg.Station.Data)
	if err != nil {
		d.logFailure(err)
	}
	defer endPresence()
	jobs.Go(func() { courier.Run(ctx) })
	jobs.Go(func() { d.sending.overflow.Run(ctx) })
	jobs.Go(func() {
		if err := d.publishRetained(ctx); err != nil {
			cancel(err)
		}
	})
	jobs.Go(func() { senders.RefreshReceivers(ctx, receivers, stateSource{d.loop}.Now, d.log) })
	jobs.Go(func() { d.bookBackup.Run(ctx, d.logFailure) })
	jobs.Go(func() { d.checkReadings(ctx) })
	jobs.Go(func() { d.reportLiveness(ctx, stateSource{d.loop}.Now, poller, beat) })
	d.notify(systemd.SdNotifyReady)
	d.log.Info("watching", "page", at.String(), "probes", len(d.plan.Probes), "zones", len(d.plan.Zones))

	<-ctx.Done()
	d.notify(systemd.SdNotifyStopping)
	if cause := context.Cause(ctx); cause != nil && !errors.Is(cause, context.Canceled) {
		return cause
	}
	return nil
}

// deliverTo returns the function that takes each polled batch. It passes the readings to
// the station. It logs one line when a bus or a probe stops answering and one line when
// it answers again.
func (d *daemon) deliverTo() func(context.Context, sensor.Batch) {
	var mu sync.Mutex
	gone := map[string]bool{}
	failed := map[string]int{}     // of each probe, polls in a row in which only its bus answered
	noHumidity := map[string]int{} // of each probe, polls in a row in which it gave a temperature but no humidity
	return func(ctx context.Context, b sensor.Batch) {
		mu.Lock()
		was := gone[b.Bus]
		gone[b.Bus] = b.Err != nil
		for i, r := range b.Readings {
			switch {
			case b.Err != nil: // logged once for the bus, below
			case b.Errs[i] != nil:
				if failed[r.Probe]++; failed[r.Probe] == maxFailedReads {
					d.log.Error("a probe gives no value", "probe", r.Probe, "err", b.Errs[i])
				}
			default:
				if failed[r.Probe] >= maxFailedReads {
					d.log.Info("a probe gives values again", "probe", r.Probe)
				}
				failed[r.Probe] = 0
				d.logHumidity(r, noHumidity)
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

// logHumidity logs when a probe that answers stops giving humidity, and when it gives
// humidity again. The map counts such readings in a row, by probe.
func (d *daemon) logHumidity(r sensor.Reading, noHumidity map[string]int) {
	if math.IsNaN(r.Humidity) && r.Lacking == nil {
		return // not known to measure humidity
	}
	if r.Lacking == nil {
		if noHumidity[r.Probe] >= maxFailedReads {
			d.log.Info("a probe gives humidity again", "probe", r.Probe)
		}
		noHumidity[r.Probe] = 0
		return
	}
	if noHumidity[r.Probe]++; noHumidity[r.Probe] == maxFailedReads {
		d.log.Error("a probe gives no humidity", "probe", r.Probe, "err", r.Lacking)
	}
}

// maxFailedReads is the number of failed reads in a row from which the log names a probe.
// Fewer are a bad contact. The screen of readings counts the same (our choice).
const maxFailedReads = 3

// recordAttempt keeps and logs the result of an attempt to send.
func (d *daemon) recordAttempt(a outbox.Attempt) {
	d.sending.deliveries.record(a)
	switch {
	case a.Message.ID == "":
		d.log.Error("the waiting messages cannot be read", "sender", a.Sender, "err", a.Err)
	case a.Err != nil:
		d.log.Error("a message was not delivered", "sender", a.Sender, "message", a.Message.ID, "next", a.Outcome.Next, "err", a.Err)
	case a.Outcome.Result == alert.Dropped:
		d.log.Info("a message is no longer needed", "sender", a.Sender, "message", a.Message.ID)
	default:
		d.log.Info("a message was delivered", "sender", a.Sender, "message", a.Message.ID)
	}
}

// logEvent writes a transition of an alarm. One that is raised has the level of its priority.
func (d *daemon) logEvent(e snapshot.Event) {
	level := slog.LevelInfo
	if e.To == string(alert.Active) {
		switch alert.Priority(e.Priority) {
		case alert.Critical:
			level = logging.Critical
		case alert.Warning:
			level = slog.LevelWarn
		case alert.Notice:
			level = logging.Notice
		}
	}
	d.log.Log(context.Background(), level, "alarm", "alarm", e.Alarm, "priority", e.Priority, "zone", words.OrEmpty(e.Zone), "probe", words.OrEmpty(e.Probe), "from", e.From, "to", e.To)
}

// newHeartbeat returns nil if the configuration has no heartbeat.
func (d *daemon) newHeartbeat() (*heartbeat.Beat, error) {
	if d.cfg.Station.Heartbeat == nil {
		return nil, nil
	}
	b, err := heartbeat.New(d.cfg.Station.Heartbeat.URL, d.dialer.Client(dialer.MaxReply))
	if err != nil {
		return nil, usererr.Usage(err)
	}
	return b, nil
}

// livenessInterval is how often it is looked whether the station works: at least each ten
// seconds (our choice), and twice as often as the watchdog waits (sd_watchdog_enabled(3)).
func livenessInterval(polls time.Duration) time.Duration {
	often := min(polls, 10*time.Second)
	if watchdog, err := systemd.SdWatchdogEnabled(false); err == nil && watchdog > 0 {
		often = min(often, watchdog/2)
	}
	return often
}

// reportLiveness feeds systemd's watchdog while the station works, and sends the heartbeat
// while it also gets values from its probes. Now is the state last published, nil before the
// first. It returns when the context ends.
func (d *daemon) reportLiveness(ctx context.Context, now func() *snapshot.Snapshot, poller *sensor.Poller, beat *heartbeat.Beat) {
	tick := time.NewTicker(livenessInterval(d.plan.Every))
	defer tick.Stop()
	var lastBeat time.Duration // uptime; zero: none yet
	failing := false
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		n := now()
		if n == nil || len(poller.Late()) > 0 || d.time.now().Sub(n.At) > 3*max(d.plan.Every, 10*time.Second) {
			continue // a bus or the station hangs, or the station is not ready
		}
		d.notify(systemd.SdNotifyWatchdog)
		up := d.time.uptime()
		if beat == nil || !isHealthy(n) || lastBeat != 0 && up-lastBeat < d.cfg.Station.Heartbeat.Every {
			continue
		}
		lastBeat = up
		err := beat.Send(ctx)
		if err != nil && !failing && ctx.Err() == nil {
			d.log.Error("the heartbeat does not get out", "err", err)
		}
		failing = err != nil
		if ctx.Err() == nil {
			d.sending.deliveries.recordHeartbeat(err, d.time.now())
		}
	}
}

// isHealthy reports whether every zone has a value, every probe answers and readings are
// stored.
func isHealthy(n *snapshot.Snapshot) bool {
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
		d.log.Error("systemd did not take the state", "state", state, "err", err)
	}
}
