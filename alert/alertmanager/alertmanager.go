// Package alertmanager delivers messages to the receiver of a Prometheus server's
// alerts, by version 2 of its API: POST /api/v2/alerts.
//
// # Decisions
//
//   - An episode is one alert from its begin to its end. Its labels have no identity of the
//     episode, so that a silence set for a zone's side holds for the next episode too; the
//     annotation has it.
//   - The priority is a label, because a receiver chooses by labels whom it wakes, and does
//     not call again when an annotation changes. An episode that gets more urgent ends the
//     alert of the old priority in the request that begins the new one, so that one stands.
//   - A receiver keeps its alerts in memory, and its other clients post what stands again and
//     again. So does Refresh. An alert still stands for a day without it: a station that is
//     gone is no end of its alarms.
package alertmanager

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"sync"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/post"
)

// Hold is how long an alert stands when nothing more is heard of it. A receiver
// ends by itself what has no end after minutes.
const Hold = 24 * time.Hour

// Config says where the receiver is.
type Config struct {
	URL     string // http or https, without /api/v2/alerts
	Station string // a label of every alert
	Link    string // the station's page, for people; may be empty
	Hold    time.Duration
	Headers map[string]string
	Login   post.Login
	Store   Store // nil: what stands is forgotten at a restart
	Now     func() time.Time
	Client  *http.Client // limits the length of an answer
}

// Sender posts alerts. A receiver groups and paces by itself: give its route an
// unbounded [ratelimit.Limit].
type Sender struct {
	c  Config
	to *post.Receiver

	mu   sync.Mutex
	told map[string]told // by episode

	stands map[string]standing // by the labels of the alert
}

// told is what the newest message of an episode said that the receiver took.
type told struct {
	at       time.Time
	priority alert.Priority
	over     bool
}

// rememberedFor is how long an episode that is over is remembered, so that an older message of
// it that was held up does not begin its alert again (our choice: no message is that late).
const rememberedFor = 7 * 24 * time.Hour

var _ alert.Sender = (*Sender)(nil)

// New checks the configuration.
func New(c Config) (*Sender, error) {
	u, err := url.Parse(c.URL)
	if err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" || u.User != nil {
		return nil, errors.New("the address must be an http or https one with a host, without a user; name that with user and password_file")
	}
	c.Hold = cmp.Or(c.Hold, Hold)
	if c.Now == nil {
		return nil, errors.New("no clock")
	}
	if c.Client == nil {
		return nil, errors.New("no client")
	}
	s := &Sender{
		c: c, to: post.To(u.JoinPath("api/v2/alerts").String(), u, c.Headers, final, c.Now, c.Client).With(c.Headers, c.Login),
		told: map[string]told{}, stands: map[string]standing{},
	}
	return s, s.load()
}

// posted is one alert as the API has it.
type posted struct {
	Labels       map[string]string `json:"labels"`
	Annotations  map[string]string `json:"annotations"`
	StartsAt     *time.Time        `json:"startsAt,omitempty"`
	EndsAt       time.Time         `json:"endsAt"`
	GeneratorURL string            `json:"generatorURL,omitempty"`

	key string // of the alarm that it tells of
}

// name is the identity of an alert at the receiver: its labels.
func (p posted) name() string {
	text, _ := json.Marshal(p.Labels) // a map of texts has a JSON form, in the order of its keys
	return string(text)
}

// alertsOf translates a message: an alert for each of its episodes. What the episode is makes
// the labels, which name the alert, and what is said of it the annotations. The alarms of one
// side of a zone are one alert, by the name of the band's own alarm.
func (s *Sender) alertsOf(m alert.Message) ([]posted, error) {
	if len(m.Threads) == 0 {
		labels, err := labelsOf(m.Alarm, m.Priority)
		if err != nil {
			return nil, fmt.Errorf("message %s: %w", m.ID, err)
		}
		return []posted{s.alertOf(m, labels, "", m.Alarm, m.Over)}, nil
	}
	all := []posted{}
	for _, t := range m.Threads {
		if m.At.Before(s.told[t.ID].at) {
			continue // a newer message of the episode got through before
		}
		labels, err := labelsOf(t.Alarm, t.Priority)
		if err != nil {
			return nil, fmt.Errorf("message %s: %w", m.ID, err)
		}
		if t.Side != "" {
			labels = map[string]string{"alertname": string(t.Side.Kind()), "zone": t.Zone}
		}
		for _, p := range s.posted(t) {
			l := maps.Clone(labels)
			l["priority"] = string(p)
			all = append(all, s.alertOf(m, l, t.ID, t.Alarm, t.Over || p != t.Priority))
		}
	}
	return all, nil
}

// posted are the priorities with which an episode has an alert that this message changes:
// the one that it has now, and those that end. Of an episode that is not known since this
// process began all end with it.
func (s *Sender) posted(t alert.Thread) []alert.Priority {
	before, known := s.told[t.ID]
	switch {
	case known && !before.over && before.priority != t.Priority:
		return []alert.Priority{t.Priority, before.priority}
	case !known && !t.Over:
		return append([]alert.Priority{t.Priority}, s.otherPriorities(t)...)
	case !known && t.Over:
		return []alert.Priority{alert.Critical, alert.Warning, alert.Notice}
	}
	return []alert.Priority{t.Priority}
}

// labelsOf are the labels of an alarm, by its key; without one, those of a message of none.
func labelsOf(key string, p alert.Priority) (map[string]string, error) {
	if key == "" {
		return map[string]string{"alertname": "message", "priority": string(p)}, nil
	}
	k, err := alert.ParseKey(key)
	if err != nil {
		return nil, err
	}
	return map[string]string{
		"alertname": string(k.Kind), "priority": string(k.Priority),
		"zone": k.Zone, "box": k.Box, "probe": k.Probe, "clutch": k.Clutch,
	}, nil
}

// otherPriorities are those with which an episode stood before the station was started again.
func (s *Sender) otherPriorities(t alert.Thread) (all []alert.Priority) {
	for _, x := range s.stands {
		if p := alert.Priority(x.Alert.Labels["priority"]); x.Episode == t.ID && p != t.Priority {
			all = append(all, p)
		}
	}
	return all
}

// alertOf is the alert of a message with its labels. Of one that is over only its end is
// said, and it began by itself.
func (s *Sender) alertOf(m alert.Message, labels map[string]string, episode, key string, over bool) posted {
	p := posted{
		Labels:       labels,
		Annotations:  map[string]string{"summary": m.Subject, "description": m.Body, "message": m.ID, "episode": episode},
		GeneratorURL: s.c.Link,
		key:          key,
		EndsAt:       m.At,
	}
	p.Labels["station"] = s.c.Station
	for _, set := range []map[string]string{p.Labels, p.Annotations} { // an empty label is no label
		maps.DeleteFunc(set, func(_, value string) bool { return value == "" })
	}
	if !over {
		p.StartsAt, p.EndsAt = &m.At, m.At.Add(s.c.Hold)
		if now := s.c.Now(); now.After(m.At) && key != "" { // a call of what stands for long
			p.EndsAt = now.Add(s.c.Hold)
		}
	}
	return p
}

// Send posts the alerts of a message. A 400 is [alert.ErrPermanent]: the receiver read it and
// found it wrong.
func (s *Sender) Send(ctx context.Context, m alert.Message) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	all, err := s.alertsOf(m)
	if err != nil {
		return alert.Permanent(err)
	}
	if len(all) == 0 {
		return nil
	}
	body, err := json.Marshal(all)
	if err != nil {
		return alert.Permanent(fmt.Errorf("message %s as JSON: %w", m.ID, err))
	}
	if err := s.to.Post(ctx, nil, body); err != nil {
		return err
	}
	s.remember(m)
	return s.keep(all)
}

// remember keeps what a message told of its episodes, and forgets those that are long over.
func (s *Sender) remember(m alert.Message) {
	for _, t := range m.Threads {
		if !m.At.Before(s.told[t.ID].at) {
			s.told[t.ID] = told{m.At, t.Priority, t.Over}
		}
	}
	maps.DeleteFunc(s.told, func(_ string, x told) bool { return x.over && m.At.Sub(x.at) > rememberedFor })
}

func final(status int) bool { return status == http.StatusBadRequest }
