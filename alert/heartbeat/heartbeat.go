// Package heartbeat tells a watcher elsewhere that the station is well, by
// fetching an address. A station that is dead cannot say so; its silence must.
package heartbeat

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"time"
)

// Limit bounds one beat.
const Limit = 10 * time.Second

// Beat fetches an address. Call it only when all is well.
type Beat struct {
	url    string
	shown  string // without what may be secret
	client *http.Client
}

// New checks the address: http or https, with a host. Its path may be a secret
// and is never in an error. The client limits the length of an answer.
func New(address string, client *http.Client) (*Beat, error) {
	u, err := url.Parse(address)
	if err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" {
		return nil, errors.New("the address must be an http or https one with a host")
	}
	limited := *client
	limited.Timeout = Limit
	return &Beat{url: address, shown: u.Scheme + "://" + u.Host, client: &limited}, nil
}

// Send makes one beat. It is not repeated here: the next one is due soon.
func (b *Beat) Send(ctx context.Context) error {
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, b.url, nil)
	if err != nil {
		return fmt.Errorf("the address at %s cannot be fetched", b.shown)
	}
	resp, err := b.client.Do(req)
	if err != nil {
		var e *url.Error // it quotes the whole address
		if errors.As(err, &e) {
			err = e.Err
		}
		return fmt.Errorf("fetching from %s: %w", b.shown, err)
	}
	defer resp.Body.Close()
	// A short answer is read so that the connection can be kept.
	if _, err := io.CopyN(io.Discard, resp.Body, 4096); err != nil && !errors.Is(err, io.EOF) {
		return fmt.Errorf("reading the answer of %s: %w", b.shown, err)
	}
	if resp.StatusCode/100 != 2 {
		return fmt.Errorf("%s answered %s", b.shown, resp.Status)
	}
	return nil
}
