// Package senders makes the senders that a configuration names, and sends the test
// message. It opens no connection before there is a message. It must not know when a
// message is due.
package senders

import (
	"context"
	"crypto/x509"
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"sync"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/alertmanager"
	"example.com/ootherm/alert/email"
	"example.com/ootherm/alert/mqtt"
	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/alert/output"
	"example.com/ootherm/alert/post"
	"example.com/ootherm/alert/ratelimit"
	"example.com/ootherm/alert/trust"
	"example.com/ootherm/alert/webhook"
	"example.com/ootherm/cmd/ootherm/internal/atomicfile"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/dialer"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"periph.io/x/conn/v3/driver/driverreg"
	"periph.io/x/conn/v3/gpio/gpioreg"

	// The outputs of a Raspberry Pi, and of other boards through the kernel. The whole of
	// periph.io/x/host/v3 would ask the kernel for its 1-Wire buses, and wait for ever where
	// that does not answer.
	_ "periph.io/x/host/v3/bcm283x"
	_ "periph.io/x/host/v3/gpioioctl"
	_ "periph.io/x/host/v3/rpi"
	_ "periph.io/x/host/v3/sysfs"
)

// noHourlyLimit is the hourly limit for receivers that group and limit messages
// themselves.
const noHourlyLimit = 1 << 20

// Routes makes the routes of a configuration's senders. It connects to none. Their
// messages carry no attachments.
func Routes(c config.Config, plan plan.Plan, now func() time.Time) ([]outbox.Route, error) {
	return routes(c, plan, now, dialer.New(), nil, "")
}

// RoutesWith makes routes that connect with a dialer and whose mails carry attachments. The
// function attachment gives the file of a message that names one. What stands at an alert
// receiver is kept in the station's folder.
func RoutesWith(c config.Config, p plan.Plan, now func() time.Time, d *dialer.Dialer, attachment func(alert.Message) ([]byte, error)) ([]outbox.Route, error) {
	return routes(c, p, now, d, attachment, c.Station.Data)
}

// routes makes the routes. data is the station's folder; empty: nothing is kept there.
func routes(c config.Config, p plan.Plan, now func() time.Time, d *dialer.Dialer, attachment func(alert.Message) ([]byte, error), data string) ([]outbox.Route, error) {
	var all []outbox.Route
	for _, x := range c.Senders {
		if x.Kind == plan.LampKind {
			continue
		}
		r := outbox.Route{Name: x.Name, After: x.After, RateLimit: ratelimit.Limit{PerHour: x.Most, Where: p.Location}}
		if x.Quiet != nil {
			r.RateLimit.Quiet = ratelimit.Hours{From: x.Quiet.From, To: x.Quiet.To}
		}
		if (x.Kind == "mqtt" || x.Kind == "alertmanager") && x.Most == 0 {
			r.RateLimit.PerHour = noHourlyLimit
		}
		var err error
		if r.Sender, err = newSender(x, p, now, d, attachment, data); err != nil {
			return nil, usererr.Usage(fmt.Errorf("sender %s: %w", x.Name, err))
		}
		all = append(all, r)
	}
	return all, nil
}

// newSender makes the sender of one section of the configuration.
func newSender(x config.Sender, plan plan.Plan, now func() time.Time, d *dialer.Dialer, attachment func(alert.Message) ([]byte, error), data string) (alert.Sender, error) {
	switch x.Kind {
	case "email":
		return email.New(email.Config{
			Host: x.Host, Port: x.Port, Security: email.Security(x.TLS), User: x.User, PasswordFile: x.PasswordFile, CAFile: x.CAFile,
			From: x.From, To: x.To, Station: plan.Name, Now: now, Attachment: attachment,
			Dial: d.Dial(dialer.MaxMailReply),
		})
	case "webhook":
		return webhook.New(webhook.Config{
			URL: x.URL, Headers: x.Headers, Body: x.Body, SecretFile: x.SecretFile, Station: plan.Name, Now: now,
			Login: loginOf(x), Client: clientOf(x, d),
		})
	case "mqtt":
		return mqtt.New(BrokerOf(x, plan, d))
	case "alertmanager":
		c := alertmanager.Config{URL: x.URL, Headers: x.Headers, Login: loginOf(x), Station: plan.Name, Link: plan.URL, Now: now, Client: clientOf(x, d)}
		if data != "" {
			c.Store = alertsFile(filepath.Join(data, "alerts-"+url.PathEscape(x.Name)+".json"))
		}
		return alertmanager.New(c)
	case "buzzer":
		return &buzzer{output: x.Output}, nil
	}
	return nil, fmt.Errorf("this build has no sender of the kind %s", x.Kind)
}

// loginOf is the login of a sender over HTTP.
func loginOf(x config.Sender) post.Login {
	return post.Login{User: x.User, PasswordFile: x.PasswordFile}
}

// clientOf makes the client of a sender over HTTP.
func clientOf(x config.Sender, d *dialer.Dialer) *http.Client {
	if x.CAFile == "" {
		return d.Client(dialer.MaxReply)
	}
	return d.ClientFor(dialer.MaxReply, func() (*x509.CertPool, error) { return trust.Roots(x.CAFile) })
}

// alertsFile keeps what stands at an alert receiver in a file.
type alertsFile string

// Load reads the file; nil where there is none.
func (f alertsFile) Load() ([]byte, error) {
	text, err := os.ReadFile(string(f))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	return text, err
}

// Save replaces the file.
func (f alertsFile) Save(text []byte) error { return atomicfile.WriteBytes(string(f), text) }

// openOutput opens an output of the board by its name, as GPIO17.
func openOutput(name string) (output.Out, error) {
	if _, err := driverreg.Init(); err != nil {
		return nil, fmt.Errorf("the board's outputs: %w", err)
	}
	p := gpioreg.ByName(name)
	if p == nil {
		return nil, fmt.Errorf("this board has no output %q; most boards name it like GPIO17, and the station's user must be in the group gpio", name)
	}
	return p, nil
}

// buzzer opens its output at the first message. A board without that output still runs
// the station, and the message's error names the output.
type buzzer struct {
	output string

	mu     sync.Mutex
	opened *output.Buzzer
}

var _ alert.Sender = (*buzzer)(nil)

// Send sounds the buzzer.
func (b *buzzer) Send(ctx context.Context, m alert.Message) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.opened == nil {
		out, err := openOutput(b.output)
		if err != nil {
			return err
		}
		if b.opened, err = output.NewBuzzer(out); err != nil {
			return err
		}
	}
	return b.opened.Send(ctx, m)
}

// Lamps light while a warning or a critical alarm is active.
type Lamps struct {
	outputs []string
	opened  map[string]*output.Lamp
	failing bool
}

// LampsOf makes the lamps of a configuration. It opens no output.
func LampsOf(c config.Config) *Lamps {
	l := &Lamps{opened: map[string]*output.Lamp{}}
	for _, x := range c.Senders {
		if x.Kind == plan.LampKind {
			l.outputs = append(l.outputs, x.Output)
		}
	}
	return l
}

// Show sets the lamps by the alarms. After it returned an error once, it returns nil.
func (l *Lamps) Show(alarms func() []alert.Alarm) error {
	var all error
	for _, name := range l.outputs {
		if l.opened[name] == nil {
			if l.failing {
				continue // do not try to open it again at each step
			}
			out, err := openOutput(name)
			if err == nil {
				l.opened[name], err = output.NewLamp(out)
			}
			if err != nil {
				all = errors.Join(all, err)
				continue
			}
		}
		all = errors.Join(all, l.opened[name].Show(alarms()))
	}
	if all == nil || l.failing {
		return nil
	}
	l.failing = true
	return fmt.Errorf("a lamp: %w", all)
}

// BrokerOf returns the settings of a sender's MQTT broker.
func BrokerOf(x config.Sender, plan plan.Plan, d *dialer.Dialer) mqtt.Config {
	return mqtt.Config{URL: x.URL, Topic: x.Topic, User: x.User, PasswordFile: x.PasswordFile, CAFile: x.CAFile, Station: plan.Name, Dial: d.Dial(dialer.MaxReply)}
}
