package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"strings"
	"time"
)

// callers are the attacks on the page, by strangers and by browsers that gave the
// passphrase.
func (s *siege) callers() []named {
	const ask = "GET /healthz HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"
	login := "POST /login HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/x-www-form-urlencoded\r\n"
	var minimal, cookies strings.Builder
	for i := range 9000 {
		fmt.Fprintf(&minimal, "%d:\r\n", i)
	}
	for i := range 400 {
		fmt.Fprintf(&cookies, "Cookie: ootherm=%d\r\n", i)
	}
	known := "Cookie: " + s.enter() + "\r\n"
	var reads strings.Builder
	for _, path := range []string{"/", "/api/v1/now", "/api/v1/book", "/metrics", "/note", "/review", "/help/configuration"} {
		fmt.Fprintf(&reads, "GET %s HTTP/1.1\r\nHost: 127.0.0.1\r\n%s\r\n", path, known)
	}
	return []named{
		{"idle connections", crowd(few(300, 1100), s.hold(ask))},
		{"connections without a byte", crowd(few(200, 2000), s.hold(""))},
		{"header lines", crowd(few(60, 400), s.hold(login+minimal.String()+"Content-Length: 7000\r\n\r\n"))},
		{"many cookies", crowd(few(60, 400), s.hold(login+cookies.String()+"Content-Length: 7000\r\n\r\n"))},
		{"one long header line", crowd(few(60, 1000), s.hold("GET / HTTP/1.1\r\nX: "+strings.Repeat("x", 60<<10)))},
		{"long addresses", crowd(few(60, 400), s.hold("GET /login?"+strings.Repeat("a&", 4<<10)+" HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"))},
		{"slow headers", crowd(few(60, 400), s.drip(login, "X-%d: y\r\n"))},
		{"slow bodies", crowd(few(60, 400), s.drip(login+"Content-Length: 7000\r\n\r\n", "a%d&"))},
		{"chunks without end", crowd(few(60, 400), s.drip(login+"Transfer-Encoding: chunked\r\n\r\n", "1;x=%d\r\na\r\n"))},
		{"forms of many fields", crowd(few(60, 400), s.hold(login+"Content-Length: 8190\r\n\r\n"+strings.Repeat("a&", 4095)))},
		{"TLS to the plain port", crowd(few(60, 400), s.hold("\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03"))},
		{"readers that read nothing", crowd(few(100, 1000), s.hold(strings.Repeat(reads.String(), 30)))},
		{"passphrases", crowd(few(60, 1000), s.guess)},
	}
}

// enter gives the passphrase, and returns the cookie of the session.
func (s *siege) enter() string {
	s.t.Helper()
	client := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	resp, err := client.PostForm("http://"+s.listen+"/login", url.Values{"passphrase": {siegePassword}, "to": {"/"}})
	if err != nil {
		s.t.Fatal(err)
	}
	defer resp.Body.Close()
	if len(resp.Cookies()) != 1 {
		s.t.Fatalf("the passphrase is answered with %s", resp.Status)
	}
	return resp.Cookies()[0].Name + "=" + resp.Cookies()[0].Value
}

// call connects from an address of this machine that the number names.
func (s *siege) call(ctx context.Context, i int) (net.Conn, error) {
	d := net.Dialer{Timeout: 10 * time.Second, LocalAddr: &net.TCPAddr{IP: net.IPv4(127, 0, byte(1+i/250), byte(1+i%250))}}
	return d.DialContext(ctx, "tcp", s.listen)
}

// hold sends a text and holds the connection. It reads nothing. Where the station ends it,
// it connects again after a moment.
func (s *siege) hold(text string) func(context.Context, int, func()) {
	return func(ctx context.Context, i int, begun func()) {
		again := time.NewTicker(500 * time.Millisecond)
		defer again.Stop()
		for ctx.Err() == nil {
			if c, err := s.call(ctx, i); err == nil {
				stop := context.AfterFunc(ctx, func() { _ = c.Close() })
				_ = c.SetWriteDeadline(time.Now().Add(2 * time.Second)) // a station that reads no more is no reason to wait
				_, _ = io.WriteString(c, text)
				begun()
				if len(text) > 64<<10 {
					<-ctx.Done()
				} else {
					_, _ = bufio.NewReader(c).WriteTo(io.Discard) // until the station ends it
				}
				stop()
				_ = c.Close()
			}
			begun()
			select {
			case <-again.C:
			case <-ctx.Done():
			}
		}
	}
}

// drip sends a text and then a little of something every now and then.
func (s *siege) drip(text, drop string) func(context.Context, int, func()) {
	return func(ctx context.Context, i int, begun func()) {
		tick := time.NewTicker(100 * time.Millisecond)
		defer tick.Stop()
		for ctx.Err() == nil {
			c, err := s.call(ctx, i)
			for n := 0; err == nil && ctx.Err() == nil; n++ {
				if n == 0 {
					_, err = io.WriteString(c, text)
				} else {
					_, err = fmt.Fprintf(c, drop, n)
				}
				begun()
				select {
				case <-tick.C:
				case <-ctx.Done():
				}
			}
			if c != nil {
				_ = c.Close()
			}
			begun()
			select {
			case <-tick.C:
			case <-ctx.Done():
			}
		}
	}
}

// guess tries passphrases, one after the other.
func (s *siege) guess(ctx context.Context, i int, begun func()) {
	client := &http.Client{Transport: &http.Transport{DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) { return s.call(ctx, i) }}}
	defer client.CloseIdleConnections()
	tick := time.NewTicker(50 * time.Millisecond)
	defer tick.Stop()
	for n := 0; ctx.Err() == nil; n++ {
		begun()
		form := url.Values{"passphrase": {fmt.Sprintf("four cold eggs %d", n)}}.Encode()
		req, err := http.NewRequestWithContext(ctx, http.MethodPost, "http://"+s.listen+"/login", strings.NewReader(form))
		if err != nil {
			return
		}
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		if resp, err := client.Do(req); err == nil {
			_, _ = io.Copy(io.Discard, resp.Body)
			_ = resp.Body.Close()
		}
		select {
		case <-tick.C:
		case <-ctx.Done():
		}
	}
}
