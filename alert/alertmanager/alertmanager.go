// Package alertmanager delivers messages to the receiver of a Prometheus server's
// alerts, by version 2 of its API: POST /api/v2/alerts.
package alertmanager

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/post"
)

// Hold is how long an alert stands when nothing more is heard of it. A receiver
// ends by itself what has no end after minutes; a station speaks of an alarm when
// it is raised, called again and over.
const Hold = 24 * time.Hour

// Config says where the receiver is.
type Config struct {
	URL     string // http or https, without /api/v2/alerts
	Station string // a label of every alert
	Link    string // the station's page, for people; may be empty
	Hold    time.Duration
	Now     func() time.Time
	Client  *http.Client // limits the length of an answer
}

// Sender posts alerts. A receiver groups and paces by itself: give its route an
// unbounded [alert.RateLimit].
type Sender struct {
	c  Config
	to *post.Receiver
}

var _ alert.Sender = (*Sender)(nil)

// New checks the configuration.
func New(c Config) (*Sender, error) {
	u, err := url.Parse(c.URL)
	if err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" || u.User != nil {
		return nil, errors.New("the address must be an http or https one with a host, without a user")
	}
	c.Hold = cmp.Or(c.Hold, Hold)
	if c.Now == nil {
		return nil, errors.New("no clock")
	}
	if c.Client == nil {
		return nil, errors.New("no client")
	}
	return &Sender{c, post.To(u.JoinPath("api/v2/alerts").String(), u, nil, final, c.Now, c.Client)}, nil
}

// posted is one alert as the API has it.
type posted struct {
	Labels       map[string]string `json:"labels"`
	Annotations  map[string]string `json:"annotations"`
	StartsAt     *time.Time        `json:"startsAt,omitempty"`
	EndsAt       time.Time         `json:"endsAt"`
	GeneratorURL string            `json:"generatorURL,omitempty"`
}

// alertOf translates a message: what the alarm is makes the labels, which name the
// alert, and what is said of it the annotations.
func (s *Sender) alertOf(m alert.Message) (posted, error) {
	p := posted{
		Labels: map[string]string{"alertname": "message", "station": s.c.Station, "priority": string(m.Priority)},
		Annotations: map[string]string{
			"summary": m.Subject, "description": m.Body, "message": m.ID,
		},
		GeneratorURL: s.c.Link,
		EndsAt:       m.At,
	}
	if m.Alarm != "" {
		k, err := alert.ParseKey(m.Alarm)
		if err != nil {
			return posted{}, fmt.Errorf("message %s: %w", m.ID, err)
		}
		p.Labels["alertname"], p.Labels["priority"] = string(k.Kind), string(k.Priority)
		p.Labels["zone"], p.Labels["box"], p.Labels["probe"], p.Labels["clutch"] = k.Zone, k.Box, k.Probe, k.Clutch
	}
	for name, value := range p.Labels { // an empty label is no label
		if value == "" {
			delete(p.Labels, name)
		}
	}
	if !m.Over { // of one that is over only its end is said, and it began by itself
		p.StartsAt, p.EndsAt = &m.At, m.At.Add(s.c.Hold)
	}
	return p, nil
}

// Send posts one alert. A 400 is [alert.ErrPermanent]: the receiver read it and
// found it wrong.
func (s *Sender) Send(ctx context.Context, m alert.Message) error {
	p, err := s.alertOf(m)
	if err != nil {
		return alert.Permanent(err)
	}
	body, err := json.Marshal([]posted{p})
	if err != nil {
		return alert.Permanent(fmt.Errorf("message %s as JSON: %w", m.ID, err))
	}
	return s.to.Post(ctx, nil, body)
}

func final(status int) bool { return status == http.StatusBadRequest }
