package dialer_test

import (
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/dialer"
)

// pair connects to a peer that the test plays.
func pair(t *testing.T, maxReply int64) (conn, peer net.Conn) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	if conn, err = dialer.New().Dial(maxReply)(t.Context(), "tcp", l.Addr().String()); err != nil {
		t.Fatal(err)
	}
	if peer, err = l.Accept(); err != nil {
		t.Fatal(err)
	}
	for _, c := range []net.Conn{conn, peer} {
		t.Cleanup(func() { _ = c.Close() })
		if err := c.SetDeadline(time.Now().Add(10 * time.Second)); err != nil {
			t.Fatal(err)
		}
	}
	return conn, peer
}

// Each reply may be as long as the limit, and no longer.
func TestReplyIsLimited(t *testing.T) {
	conn, peer := pair(t, 2048)
	for range 3 {
		if _, err := peer.Write(make([]byte, 2048)); err != nil {
			t.Fatal(err)
		}
		if _, err := io.ReadFull(conn, make([]byte, 2048)); err != nil {
			t.Fatal(err)
		}
		if _, err := conn.Write([]byte("next")); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := peer.Write(make([]byte, 3000)); err != nil {
		t.Fatal(err)
	}
	got, err := io.ReadAll(conn)
	if len(got) != 2048 || !errors.Is(err, dialer.ErrTooLong) || !strings.Contains(err.Error(), "over 2 KB") {
		t.Errorf("%d bytes, %v", len(got), err)
	}
}

// A redirect is followed on the same host and port, and not to another.
func TestRedirects(t *testing.T) {
	other := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { t.Error("the other host is asked") }))
	defer other.Close()
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch r.URL.Path {
		case "/same":
			http.Redirect(w, r, "/end", http.StatusFound)
		case "/other":
			http.Redirect(w, r, other.URL, http.StatusFound)
		case "/loop":
			http.Redirect(w, r, "/loop", http.StatusFound)
		}
	}))
	defer server.Close()
	for path, fault := range map[string]string{"/same": "", "/other": "another host", "/loop": "more than 10 times"} {
		r, err := dialer.New().Client(dialer.MaxReply).Get(server.URL + path)
		if err == nil {
			err = r.Body.Close()
		}
		if (err == nil) != (fault == "") || fault != "" && !strings.Contains(fmt.Sprint(err), fault) {
			t.Errorf("%s: %v", path, err)
		}
	}
}

// A body and headers without end are errors.
func TestEndlessAnswers(t *testing.T) {
	line := strings.Repeat("x", 1000)
	for name, start := range map[string]string{"body": "HTTP/1.1 200 OK\r\n\r\n", "headers": "HTTP/1.1 200 OK\r\n"} {
		l, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		sent := make(chan int, 1)
		go func() {
			c, err := l.Accept()
			if err != nil {
				return
			}
			_, _ = c.Read(make([]byte, 4096)) // an answer before the request is not one
			n := 0
			for _, err = io.WriteString(c, start); err == nil && n < 1<<30; n += len(line) + 5 {
				_, err = io.WriteString(c, "a: "+line+"\r\n")
			}
			_ = c.Close()
			sent <- n
		}()
		client := dialer.New().Client(dialer.MaxReply)
		r, err := client.Get("http://" + l.Addr().String())
		if err == nil {
			_, err = io.Copy(io.Discard, r.Body)
			_ = r.Body.Close()
		}
		if err == nil || name == "body" && !errors.Is(err, dialer.ErrTooLong) {
			t.Errorf("%s: %v", name, err)
		}
		if n := <-sent; n >= 1<<30 {
			t.Errorf("%s: %d bytes were taken", name, n)
		}
		_ = l.Close()
	}
}
