package daemon

import (
	"context"
	"fmt"
	"sync"
	"time"

	"example.com/ootherm/alert/mqtt"
	"example.com/ootherm/cmd/ootherm/internal/brokerstate"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/senders"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
)

// publishRetained keeps the state up to date at each broker that the configuration names
// for it, until the context ends.
func (d *daemon) publishRetained(ctx context.Context) error {
	var brokers []*mqtt.State
	var kept []config.Sender
	for _, x := range d.cfg.Senders {
		if x.Kind != "mqtt" || !x.State {
			continue
		}
		k, err := mqtt.NewState(senders.BrokerOf(x, d.plan, d.dialer))
		if err != nil {
			return usererr.Usage(fmt.Errorf("sender %s: %w", x.Name, err))
		}
		brokers, kept = append(brokers, k), append(kept, x)
	}
	var jobs sync.WaitGroup
	for i, k := range brokers {
		jobs.Go(func() {
			k.Keep(ctx, max(d.plan.Every, time.Second), d.publication(k.Topic(), kept[i]))
		})
	}
	jobs.Wait()
	return nil
}

// publication is what is kept below a topic of the broker of a sender.
func (d *daemon) publication(topic string, x config.Sender) mqtt.Publication {
	own := []string{topic + "/state/#"}
	if x.Topic == "" {
		own = append(own, formerTopic+"/state/#", formerTopic+"/status")
	}
	announcer := brokerstate.Discovery{Prefix: mqtt.Level(x.Discovery), Topic: topic, Station: d.plan.Name, Version: d.build.Version, Moist: map[string]bool{}}
	if x.Discovery != "" {
		own = append(own, announcer.Filter())
	}
	return mqtt.Publication{
		Own: own,
		Current: func() map[string]mqtt.Retained {
			n := stateSource{d.loop}.Now()
			if n == nil {
				return nil // the station has not stepped yet
			}
			states, err := brokerstate.States(n, topic+"/state/")
			if err == nil && x.Discovery != "" {
				err = announcer.Announce(n, states)
			}
			if err != nil {
				d.logFailure(err)
			}
			return states
		},
		Report: func(err error) {
			if err == nil {
				d.log.Info("the state reaches its broker again", "sender", x.Name)
				return
			}
			d.log.Error("the state does not reach its broker", "sender", x.Name, "err", err)
		},
	}
}

// formerTopic was the topic of every station that has none configured, before version 0.2.0.
const formerTopic = "ootherm"
