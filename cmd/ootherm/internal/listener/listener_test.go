package listener

import (
	"bufio"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"runtime"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/problem"
)

// thisMachine is the only local address of these tests; the rest of 127.0.0.0/8 plays
// other machines.
var thisMachine = netip.MustParseAddr("127.0.0.1")

// open serves h on 127.0.0.1 and returns its limited listener. Its handler may be busy on
// every connection.
func open(t *testing.T, h http.HandlerFunc) *limited { return openTurns(t, maxConnections, h) }

// openTurns does so with a number of turns.
func openTurns(t *testing.T, n int, h http.HandlerFunc) *limited {
	t.Helper()
	inner, err := net.Listen("tcp4", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	l := limit(inner)
	l.local = func(a netip.Addr) bool { return a == thisMachine }
	l.turns = make(turns, n)
	server := newServer(h)
	done := make(chan error, 1)
	go func() { done <- server.Serve(l) }()
	t.Cleanup(func() {
		_ = server.Close()
		<-done
	})
	return l
}

// dial connects from an address of this machine. The connection has ten seconds.
func dial(t *testing.T, l *limited, from string) net.Conn {
	t.Helper()
	d := net.Dialer{LocalAddr: &net.TCPAddr{IP: net.ParseIP(from)}, Timeout: 10 * time.Second}
	c, err := d.Dial("tcp4", l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = c.Close() })
	if err := c.SetDeadline(time.Now().Add(10 * time.Second)); err != nil {
		t.Fatal(err)
	}
	return c
}

// ask sends a request and returns the status of the answer, or zero if there is none.
func ask(t *testing.T, c net.Conn, path, headers string) int {
	t.Helper()
	if _, err := fmt.Fprintf(c, "GET %s HTTP/1.1\r\nHost: x\r\n%s\r\n", path, headers); err != nil {
		return 0
	}
	r, err := http.ReadResponse(bufio.NewReader(c), nil)
	if err != nil {
		return 0
	}
	defer r.Body.Close()
	if _, err := io.Copy(io.Discard, r.Body); err != nil {
		t.Error(err)
	}
	return r.StatusCode
}

func (l *limited) open() int {
	l.mu.Lock()
	defer l.mu.Unlock()
	return len(l.conns)
}

// idle reports whether each connection from an address waits for a request.
func (l *limited) idle(from string) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	for c := range l.conns {
		if c.from.String() == from && c.wait == 0 {
			return false
		}
	}
	return true
}

func ok(http.ResponseWriter, *http.Request) {}

// Connections that wait take no place from somebody who asks.
func TestIdleFloodLeavesThePageOpen(t *testing.T) {
	l := open(t, ok)
	for i := range 5 * maxConnections {
		from := fmt.Sprintf("127.0.0.%d", 1+i%20)
		if status := ask(t, dial(t, l, from), "/", ""); status != 200 {
			t.Fatalf("connection %d of %s: status %d", i, from, status)
		}
		if n := l.open(); n > maxConnections {
			t.Fatalf("%d connections are open after %d", n, i)
		}
	}
}

// One address that keeps the page busy leaves places for other machines, and all other
// machines together leave places for this one.
func TestBusyAddressesLeavePlaces(t *testing.T) {
	release := make(chan struct{})
	started := make(chan struct{}, maxConnections)
	l := open(t, func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/busy" {
			started <- struct{}{}
			<-release
		}
	})
	defer close(release)
	busy := func(from string, n int) {
		for range n {
			if _, err := io.WriteString(dial(t, l, from), "GET /busy HTTP/1.1\r\nHost: x\r\n\r\n"); err != nil {
				t.Fatal(err)
			}
			select {
			case <-started:
			case <-time.After(10 * time.Second):
				t.Fatalf("a connection from %s is not answered", from)
			}
		}
	}
	busy("127.0.0.2", maxAddressConnections)
	if status := ask(t, dial(t, l, "127.0.0.2"), "/", ""); status != 0 {
		t.Errorf("connection %d of one address: status %d", maxAddressConnections+1, status)
	}
	if status := ask(t, dial(t, l, "127.0.0.3"), "/", ""); status != 200 {
		t.Errorf("another address: status %d", status)
	}
	for until := time.Now().Add(10 * time.Second); !l.idle("127.0.0.3") && time.Now().Before(until); { // its client has the answer before
		runtime.Gosched()
	}
	busy("127.0.0.3", maxAddressConnections)
	busy("127.0.0.4", maxNetworkConnections-2*maxAddressConnections)
	if status := ask(t, dial(t, l, "127.0.0.5"), "/", ""); status != 0 {
		t.Errorf("connection %d of the network: status %d", maxNetworkConnections+1, status)
	}
	busy("127.0.0.1", maxConnections-maxNetworkConnections)
	if status := ask(t, dial(t, l, "127.0.0.1"), "/", ""); status != 0 {
		t.Errorf("connection %d: status %d", maxConnections+1, status)
	}
}

func TestHeadersAreLimited(t *testing.T) {
	l := open(t, ok)
	lines := func(n int) string { return strings.Repeat("a:\r\n", n) }
	for name, x := range map[string]struct {
		headers string
		want    int
	}{
		"as many lines as allowed": {lines(maxHeaderLines), 200},
		"one line more":            {lines(maxHeaderLines + 1), 431},
		"too many bytes":           {"a: " + strings.Repeat("x", maxHeaderBytes+4<<10) + "\r\n", 431},
	} {
		if got := ask(t, dial(t, l, "127.0.0.1"), "/", x.headers); got != x.want {
			t.Errorf("%s: status %d, want %d", name, got, x.want)
		}
	}
}

// A program is refused with a problem, whoever refuses it.
func TestProgramsAreRefusedWithAProblem(t *testing.T) {
	w := httptest.NewRecorder()
	r := httptest.NewRequest(http.MethodGet, "/api/v1/now", nil)
	for i := range maxHeaderLines + 1 {
		r.Header.Set(fmt.Sprint("a", i), "")
	}
	newServer(http.NotFoundHandler()).Handler.ServeHTTP(w, r)
	if w.Code != 431 || w.Header().Get("Content-Type") != problem.ContentType {
		t.Errorf("%d %s: %s", w.Code, w.Header().Get("Content-Type"), w.Body)
	}
}

// pipes is a listener of connections within the test.
type pipes struct{ conns chan net.Conn }

func (p pipes) Accept() (net.Conn, error) {
	if c, ok := <-p.conns; ok {
		return c, nil
	}
	return nil, net.ErrClosed
}

func (p pipes) Close() error {
	close(p.conns)
	return nil
}

func (p pipes) Addr() net.Addr { return &net.UnixAddr{Net: "unix"} }

// A stranger has seconds for headers and form; somebody trusted has minutes.
func TestSlowCallersAreCutOff(t *testing.T) {
	for name, x := range map[string]struct {
		sent    string
		trusted bool
		want    time.Duration
	}{
		"nothing":        {"", false, headerTime},
		"half a header":  {"GET / HTTP/1.1\r\nHo", false, headerTime},
		"no form":        {"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: 9\r\n\r\n", false, formTime},
		"a trusted form": {"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: 9\r\n\r\n", true, trustedTime},
		"no next one":    {"GET / HTTP/1.1\r\nHost: x\r\n\r\n", false, idleTime},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				p := pipes{make(chan net.Conn, 1)}
				server := newServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
					if x.trusted {
						Trust(w)
					}
					if r.Method == http.MethodPost {
						_, err := io.ReadAll(r.Body)
						if err == nil {
							t.Error("the body has an end")
						}
						w.Header().Set("Connection", "close")
					}
				}))
				done := make(chan error, 1)
				go func() { done <- server.Serve(limit(p)) }()
				client, remote := net.Pipe()
				p.conns <- remote
				start := time.Now()
				go func() { _, _ = io.WriteString(client, x.sent) }()
				_, _ = io.Copy(io.Discard, client) // ends when the server cuts the connection
				if got := time.Since(start); got != x.want {
					t.Errorf("cut off after %v, want %v", got, x.want)
				}
				_ = client.Close()
				_ = server.Close()
				<-done
			})
		})
	}
}

func TestDescriptors(t *testing.T) {
	if err := checkDescriptors(1024); err != nil { // LimitNOFILE of the unit
		t.Error(err)
	}
	err := checkDescriptors(minDescriptors - 1)
	if err == nil || !strings.Contains(err.Error(), "LimitNOFILE") {
		t.Errorf("too few descriptors: %v", err)
	}
}
