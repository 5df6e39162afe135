package main

import (
	"bytes"
	"compress/gzip"
	"context"
	"fmt"
	"io"
	"net"
	"strings"
	"sync"
	"testing"
	"time"
)

// evilPeer is a server that the station connects to. It hangs up, except while it attacks.
type evilPeer struct {
	l net.Listener

	mu     sync.Mutex
	answer func(net.Conn) // nil: it hangs up
	open   map[net.Conn]bool
	asked  int // connections since the attack began
	ended  int // answers that came to their end: the station hung up, or it has heard all
}

func newEvilPeer(t *testing.T) *evilPeer {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	p := &evilPeer{l: l, open: map[net.Conn]bool{}}
	t.Cleanup(func() { _ = l.Close(); p.attack(nil) })
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			go p.serve(c)
		}
	}()
	return p
}

func (p *evilPeer) address() string { return p.l.Addr().String() }

func (p *evilPeer) port() string { return fmt.Sprint(p.l.Addr().(*net.TCPAddr).Port) }

func (p *evilPeer) serve(c net.Conn) {
	p.mu.Lock()
	answer := p.answer
	if answer != nil {
		p.open[c], p.asked = true, p.asked+1
	}
	p.mu.Unlock()
	if answer != nil {
		answer(c)
	}
	_ = c.Close()
	p.mu.Lock()
	if answer != nil && p.open[c] {
		p.ended++
	}
	delete(p.open, c)
	p.mu.Unlock()
}

// attack sets what the peer answers from now on, and hangs up on who is connected.
func (p *evilPeer) attack(answer func(net.Conn)) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.answer, p.asked, p.ended = answer, 0, 0
	for c := range p.open {
		_ = c.Close()
		p.open[c] = false // its end is not the station's doing
	}
}

// met is how many connections there were since the attack began, and how many answers came
// to their end.
func (p *evilPeer) met() (asked, ended int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.asked, p.ended
}

// by attacks with an answer. It ends once the station has met the answer to its end.
func (s *siege) by(p *evilPeer, name string, answer func(net.Conn)) named {
	return s.byUntil(p, name, answer, func(_, ended int) bool { return ended > 0 })
}

// bySlow attacks with an answer that has no end. It ends once the station has asked.
func (s *siege) bySlow(p *evilPeer, name string, answer func(net.Conn)) named {
	return s.byUntil(p, name, answer, func(asked, _ int) bool { return asked > 0 })
}

func (s *siege) byUntil(p *evilPeer, name string, answer func(net.Conn), met func(asked, ended int) bool) named {
	return named{name, func(context.Context) func() {
		p.attack(answer)
		return func() {
			eventually(s.t, name+": the station meets the answer", func() bool { return met(p.met()) })
			p.attack(nil)
		}
	}}
}

// flood writes a text over and over, up to a count of bytes.
func flood(c net.Conn, text string, most int) {
	block := strings.Repeat(text, 1+(64<<10)/len(text))
	for n := 0; n < most; n += len(block) {
		if _, err := io.WriteString(c, block); err != nil {
			return
		}
	}
}

// read reads what the station sends first, a part of it at least.
func read(c net.Conn) { _, _ = c.Read(make([]byte, 4<<10)) }

// silence holds a connection until it is closed.
func silence(c net.Conn) { _, _ = io.Copy(io.Discard, c) }

// dribble writes one byte at a time, until the connection is closed.
func dribble(c net.Conn, b string) {
	tick := time.NewTicker(100 * time.Millisecond)
	defer tick.Stop()
	for {
		if _, err := io.WriteString(c, b); err != nil {
			return
		}
		<-tick.C
	}
}

// answers are the attacks of peers that the station connects to.
func (s *siege) answers() []named {
	most := few(256<<20, 2<<30)
	bomb := zeros(few(64<<20, 512<<20))
	over := func(head, text string) func(net.Conn) {
		return func(c net.Conn) {
			read(c)
			_, _ = io.WriteString(c, head)
			flood(c, text, most)
		}
	}
	const ok = "HTTP/1.1 200 OK\r\n"
	connack := "\x20\x03\x00\x00\x00"
	publish := "\x30\x09\x00\x05a/b/c\x00x" // MQTT 5 section 3.3
	return []named{
		s.by(s.smtp, "SMTP: one line without end", func(c net.Conn) { flood(c, "x", most) }),
		s.by(s.smtp, "SMTP: a greeting without end", func(c net.Conn) { flood(c, "220-hello\r\n", most) }),
		s.by(s.smtp, "SMTP: an answer without end", greet("220 here\r\n", "250-x\r\n", most)),
		s.bySlow(s.smtp, "SMTP: a byte at a time", func(c net.Conn) { dribble(c, "2") }),
		s.bySlow(s.smtp, "SMTP: silence", silence),
		s.by(s.broker, "MQTT: a packet of 256 MB claimed", over("\x20\xff\xff\xff\x7f", "\x00")),
		s.by(s.broker, "MQTT: messages without end", over(connack, publish)),
		s.bySlow(s.broker, "MQTT: messages to acknowledge", func(c net.Conn) {
			go func() { _, _ = io.Copy(io.Discard, c) }()
			_, _ = io.WriteString(c, connack)
			flood(c, acknowledged(), most)
		}),
		s.bySlow(s.broker, "MQTT: silence", silence),
		s.by(s.secure, "TLS: records without end", over("", "\x16\x03\x03\x40\x00"+strings.Repeat("\x02", 1<<14))),
		s.by(s.secure, "TLS: no TLS", over("", "HTTP/1.1 400 no\r\n")),
		s.bySlow(s.secure, "TLS: silence", silence),
		s.by(s.http, "HTTP: a body without end", over(ok+"\r\n", "t 23\n")),
		s.by(s.http, "HTTP: a refusal without end", over("HTTP/1.1 500 no\r\n\r\n", "x")),
		s.by(s.http, "HTTP: headers without end", over(ok, "X: y\r\n")),
		s.by(s.http, "HTTP: one header line without end", over(ok+"X: ", "y")),
		s.by(s.http, "HTTP: notices without end", over("", "HTTP/1.1 103 Early\r\n\r\n")),
		s.by(s.http, "HTTP: chunks without end", over(ok+"Transfer-Encoding: chunked\r\n\r\n", "1;x=yyyyyyyy\r\na\r\n")),
		s.by(s.http, "HTTP: a compressed body", over(ok+"Content-Encoding: gzip\r\n\r\n"+bomb, bomb)),
		s.by(s.http, "HTTP: redirects in a circle", over("HTTP/1.1 307 on\r\nLocation: /hook\r\nContent-Length: 0\r\n\r\n", " ")),
		s.by(s.http, "HTTP: a redirect elsewhere", over("HTTP/1.1 307 on\r\nLocation: http://127.0.0.1:1/\r\nContent-Length: 0\r\n\r\n", " ")),
		s.bySlow(s.http, "HTTP: a byte at a time", func(c net.Conn) { dribble(c, "H") }),
		s.bySlow(s.http, "HTTP: silence", silence),
	}
}

// greet greets, reads one command, and answers it without end.
func greet(greeting, text string, most int) func(net.Conn) {
	return func(c net.Conn) {
		_, _ = io.WriteString(c, greeting)
		read(c)
		flood(c, text, most)
	}
}

// acknowledged are MQTT messages that ask to be acknowledged, each under another number.
func acknowledged() string {
	var b strings.Builder
	for i := 1; i < 1<<16; i++ {
		quality := byte(0x32 + 2*(i%2)) // at least once, exactly once
		b.Write([]byte{quality, 0x0b, 0, 5, 'a', '/', 'b', '/', 'c', byte(i >> 8), byte(i), 0, 'x'})
	}
	return b.String()
}

// zeros are that many zeros, compressed.
func zeros(n int) string {
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	_, _ = io.CopyN(w, zero{}, int64(n)) // a buffer takes everything
	_ = w.Close()
	return b.String()
}

type zero struct{}

func (zero) Read(p []byte) (int, error) {
	clear(p)
	return len(p), nil
}
