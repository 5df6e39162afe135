package heartbeat_test

import (
	"context"
	"errors"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert/heartbeat"
)

func TestBeat(t *testing.T) {
	for _, c := range []struct {
		status int
		want   string // in the error; none when empty
	}{{200, ""}, {204, ""}, {404, "404"}, {500, "500"}} {
		var got []string
		srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			got = append(got, r.Method+" "+r.RequestURI)
			w.WriteHeader(c.status)
		}))
		b, err := heartbeat.New(srv.URL+"/token-1?x=2", http.DefaultClient)
		if err != nil {
			t.Fatal(err)
		}
		err = b.Send(t.Context())
		srv.Close()
		if len(got) != 1 || got[0] != "GET /token-1?x=2" {
			t.Errorf("%d: the watcher got %q", c.status, got)
		}
		if (err != nil) != (c.want != "") || err != nil && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%d: %v", c.status, err)
		}
		if err != nil && strings.Contains(err.Error(), "token") {
			t.Errorf("%d: the secret is in the error: %v", c.status, err)
		}
	}
}

func TestNobodyThere(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	b, err := heartbeat.New("http://"+l.Addr().String()+"/token", http.DefaultClient)
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Send(t.Context()); err == nil || strings.Contains(err.Error(), "token") {
		t.Errorf("%v", err)
	}
}

func TestASilentWatcherIsLeft(t *testing.T) {
	asked, release := make(chan struct{}), make(chan struct{})
	srv := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) {
		close(asked)
		<-release
	}))
	defer srv.Close()
	defer close(release)
	b, err := heartbeat.New(srv.URL, http.DefaultClient)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), time.Hour)
	go func() { <-asked; cancel() }()
	if err := b.Send(ctx); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
}

func TestAddresses(t *testing.T) {
	for _, a := range []string{"", "x", "ftp://h/x", "http://", "://", "http:///secret"} {
		if _, err := heartbeat.New(a, http.DefaultClient); err == nil || strings.Contains(err.Error(), "secret") {
			t.Errorf("%q: %v", a, err)
		}
	}
}
