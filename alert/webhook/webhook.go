// Package webhook delivers messages by an HTTP POST.
package webhook

import (
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"strconv"
	"strings"
	"text/template"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/post"
)

// Headers of a request. The signature is the HMAC (RFC 2104) with SHA-256 of the
// time, a dot and the body, in hexadecimal, under the secret; the time is in
// seconds since 1970. The receiver should refuse a time that is long past.
const (
	SignatureHeader = "Ootherm-Signature"
	TimeHeader      = "Ootherm-Time"
	IdentityHeader  = "Idempotency-Key" // the message's ID; a repeated delivery has the same
)

// Config says where to post and what.
type Config struct {
	URL        string            // http or https; its path may be a secret and is never in an error
	Headers    map[string]string // beside Content-Type, which is application/json unless given
	Body       string            // a text/template of the message; empty: alert.Message.Payload. {{json .Subject}} quotes
	Login      post.Login
	SecretFile string // read at each attempt; empty: not signed
	Station    string
	Now        func() time.Time
	Client     *http.Client // limits the length of an answer
}

// Sender posts messages.
type Sender struct {
	c    Config
	body *template.Template
	to   *post.Receiver
}

var _ alert.Sender = (*Sender)(nil)

// New checks the configuration, the template on a message of its own.
func New(c Config) (*Sender, error) {
	u, err := url.Parse(c.URL)
	if err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" {
		return nil, errors.New("the address must be an http or https one with a host")
	}
	if c.Now == nil {
		return nil, errors.New("no clock")
	}
	if c.Client == nil {
		return nil, errors.New("no client")
	}
	s := &Sender{c: c, to: post.To(c.URL, u, c.Headers, final, c.Now, c.Client).With(nil, c.Login)}
	if c.Body == "" {
		return s, nil
	}
	s.body, err = template.New("body").Funcs(template.FuncMap{"json": quote}).Option("missingkey=error").Parse(c.Body)
	if err != nil {
		return nil, fmt.Errorf("the body's template: %w", err)
	}
	if _, err := s.fill(alert.Message{ID: "temperature-high.warning/room/1", Alarm: "temperature-high.warning/room"}); err != nil {
		return nil, err
	}
	return s, nil
}

// quote is a value as JSON, for templates.
func quote(v any) (string, error) {
	b, err := json.Marshal(v)
	return string(b), err
}

func (s *Sender) fill(m alert.Message) ([]byte, error) {
	if s.body == nil {
		return m.Payload(s.c.Station)
	}
	var b bytes.Buffer
	if err := s.body.Execute(&b, struct {
		alert.Message
		Station string
	}{m, s.c.Station}); err != nil {
		return nil, fmt.Errorf("the body's template: %w", err)
	}
	return b.Bytes(), nil
}

// Send posts the message; any 2xx is delivery. A 4xx is [alert.ErrPermanent],
// save those that say 'not now' (408, 425, 429) or 'not you' (401, 403, 407),
// which speak of the moment or the configuration and not of the message. A receiver
// that says when to come again is heeded (see [alert.Asked]).
func (s *Sender) Send(ctx context.Context, m alert.Message) error {
	body, err := s.fill(m)
	if err != nil {
		return alert.Permanent(err)
	}
	h := http.Header{}
	for k, v := range s.c.Headers {
		h.Set(k, v)
	}
	h.Set(IdentityHeader, header(m.ID))
	if s.c.SecretFile != "" {
		if err := s.sign(h, body); err != nil {
			return err
		}
	}
	return s.to.Post(ctx, h, body)
}

func final(status int) bool {
	switch status {
	case http.StatusUnauthorized, http.StatusForbidden, http.StatusProxyAuthRequired,
		http.StatusRequestTimeout, http.StatusTooEarly, http.StatusTooManyRequests:
		return false
	}
	return status/100 == 4
}

func (s *Sender) sign(h http.Header, body []byte) error {
	secret, err := os.ReadFile(s.c.SecretFile)
	if err != nil {
		return fmt.Errorf("reading the secret: %w", err)
	}
	at := strconv.FormatInt(s.c.Now().Unix(), 10)
	mac := hmac.New(sha256.New, bytes.TrimRight(secret, "\r\n"))
	mac.Write([]byte(at + "."))
	mac.Write(body)
	h.Set(TimeHeader, at)
	h.Set(SignatureHeader, hex.EncodeToString(mac.Sum(nil)))
	return nil
}

// header is a message's ID as a header may carry it.
func header(id string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r > '~' {
			return '_'
		}
		return r
	}, id)
}
