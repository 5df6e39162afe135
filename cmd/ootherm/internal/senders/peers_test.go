package senders_test

import (
	"fmt"
	"net"
	"runtime"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/benchtest"
	"example.com/ootherm/cmd/ootherm/internal/senders"
)

// peer says start, then line again and again until the caller hangs up. It returns its
// address and the bytes that it got rid of.
func peer(t *testing.T, start, line string) (host, port string, sent <-chan int) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = l.Close() })
	n := make(chan int, 1)
	go func() {
		c, err := l.Accept()
		if err != nil {
			return
		}
		defer c.Close()
		if strings.HasPrefix(start, "HTTP/") { // what comes before the request is no reply to it
			_, _ = c.Read(make([]byte, 4096))
		}
		total := 0
		buffer := []byte(strings.Repeat(line, 1+4096/max(1, len(line))))
		for _, err = c.Write([]byte(start)); err == nil && line != "" && total < 1<<30; {
			var k int
			k, err = c.Write(buffer)
			total += k
		}
		if line == "" {
			_, _ = c.Read(make([]byte, 4096)) // the greeting
			_, _ = c.Read(make([]byte, 1))    // until the caller hangs up
		}
		n <- total
	}()
	host, port, err = net.SplitHostPort(l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	return host, port, n
}

// maxAllocated bounds what one attempt allocates in all, in bytes. A packet that a broker
// announces would be 256 MB.
const maxAllocated = 64 << 20

// A server that replies without end costs little memory, and the error says so.
func TestEndlessReplies(t *testing.T) {
	for name, c := range map[string]struct{ start, line, sender, want string }{
		"a greeting of one line":    {"220 ", "x", "kind = \"email\"\nhost = %[1]q\nport = %[2]s\nto = [\"keeper@example.org\"]", "too long"},
		"a greeting of many lines":  {"", "220-" + strings.Repeat("x", 500) + "\r\n", "kind = \"email\"\nhost = %[1]q\nport = %[2]s\nto = [\"keeper@example.org\"]", "too long"},
		"a packet of a broker":      {"\x20\xff\xff\xff\x7f", "", "kind = \"mqtt\"\nurl = \"mqtt://%[1]s:%[2]s\"", "packet of"},
		"a webhook's reply":         {"HTTP/1.1 500 X\r\n\r\n", "x", "kind = \"webhook\"\nurl = \"http://%[1]s:%[2]s/\"", "500"},
		"a webhook's headers":       {"HTTP/1.1 200 OK\r\n", "a: x\r\n", "kind = \"webhook\"\nurl = \"http://%[1]s:%[2]s/\"", "headers exceeded"},
		"an alert receiver's reply": {"HTTP/1.1 500 X\r\n", "a: x\r\n", "kind = \"alertmanager\"\nurl = \"http://%[1]s:%[2]s/\"", "headers exceeded"},
	} {
		t.Run(name, func(t *testing.T) {
			host, port, sent := peer(t, c.start, c.line)
			path := benchtest.Written(t, "[[sender]]\nname = \"out\"\n"+fmt.Sprintf(c.sender, host, port)+"\n")
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			err := senders.SendTest(t.Context(), new(strings.Builder), path, "out", time.Now)
			runtime.ReadMemStats(&after)
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%v; want %q", err, c.want)
			}
			if n := after.TotalAlloc - before.TotalAlloc; n > maxAllocated {
				t.Errorf("%d MB were allocated", n>>20)
			}
			if n := <-sent; n >= 1<<30 {
				t.Errorf("%d bytes were taken", n)
			}
		})
	}
}
