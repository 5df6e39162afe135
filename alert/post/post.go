// Package post hands a message to a receiver over HTTP, for the senders that do: it
// keeps what may be secret out of every error, follows no redirection, and heeds a
// receiver that says when to come again.
package post

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"strconv"
	"strings"
	"time"

	"example.com/ootherm/alert"
)

// Login is what a receiver asks for: HTTP Basic (RFC 7617).
type Login struct {
	User         string // empty: none
	PasswordFile string // read at each attempt
}

// Receiver is where bodies are posted to.
type Receiver struct {
	headers  map[string]string
	login    Login
	url      string
	shown    string // the address without what may be secret
	redactor Redactor
	final    func(status int) bool
	now      func() time.Time
	client   *http.Client
}

// To is a receiver at an address with a host. What stands behind that host, in the
// address as the breeder gave it and in the headers' values, is in no error. Final
// says which answers no second try will change; any 2xx is delivery. The client limits the
// length of an answer.
func To(address string, given *url.URL, headers map[string]string, final func(status int) bool, now func() time.Time, client *http.Client) *Receiver {
	direct := *client
	// A redirected POST turns into a GET, which delivers nothing and may be
	// answered well, or shows the message elsewhere.
	direct.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	return &Receiver{
		url:      address,
		shown:    given.Scheme + "://" + given.Host,
		redactor: NewRedactor(given, headers),
		final:    final,
		now:      now,
		client:   &direct,
	}
}

// With has the receiver send headers and a login with each body.
func (r *Receiver) With(headers map[string]string, login Login) *Receiver {
	r.headers, r.login = headers, login
	return r
}

// identify adds the headers and the login. It returns the password.
func (r *Receiver) identify(req *http.Request) (password string, err error) {
	for name, value := range r.headers {
		req.Header.Set(name, value)
	}
	if r.login.User == "" {
		return "", nil
	}
	text, err := os.ReadFile(r.login.PasswordFile)
	if err != nil {
		return "", fmt.Errorf("reading the password: %w", err)
	}
	password = strings.TrimRight(string(text), "\r\n")
	req.SetBasicAuth(r.login.User, password)
	return password, nil
}

// Post posts a body once. It is JSON unless the header says otherwise. What the
// receiver will never take is [alert.ErrPermanent]; see [alert.Asked] for one that
// says when.
func (r *Receiver) Post(ctx context.Context, header http.Header, body []byte) error {
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, r.url, bytes.NewReader(body))
	if err != nil {
		return fmt.Errorf("the address at %s cannot be posted to", r.shown)
	}
	req.Header.Set("Content-Type", "application/json")
	password, err := r.identify(req)
	if err != nil {
		return err
	}
	for name, values := range header {
		req.Header[name] = values
	}
	resp, err := r.client.Do(req)
	if err != nil {
		var e *url.Error // it quotes the whole address
		if errors.As(err, &e) {
			err = e.Err
		}
		return fmt.Errorf("posting to %s: %w", r.shown, err)
	}
	defer resp.Body.Close()
	said, err := io.ReadAll(io.LimitReader(resp.Body, 200))
	if resp.StatusCode/100 == 2 {
		return nil // taken, however the rest of the answer reads
	}
	if err != nil {
		return fmt.Errorf("%s answered %s, and then: %w", r.shown, resp.Status, err)
	}
	text := r.redactor.Redact(string(said))
	if password != "" {
		text = strings.ReplaceAll(text, password, "...")
	}
	err = fmt.Errorf("%s answered %s: %q", r.shown, resp.Status, text)
	if r.final(resp.StatusCode) {
		return alert.Permanent(err)
	}
	if wait := r.asked(resp.Header.Get("Retry-After")); wait > 0 {
		return alert.NotBefore(err, wait)
	}
	return err
}

// asked reads Retry-After: seconds, or a date (RFC 9110 section 10.2.3). What is
// neither asks for nothing.
func (r *Receiver) asked(after string) time.Duration {
	if n, err := strconv.ParseUint(after, 10, 31); err == nil {
		return time.Duration(n) * time.Second
	}
	if at, err := http.ParseTime(after); err == nil {
		return at.Sub(r.now())
	}
	return 0
}
