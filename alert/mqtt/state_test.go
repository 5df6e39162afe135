//go:build tools

package mqtt_test

import (
	"context"
	"errors"
	"maps"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/mqtt"
	"example.com/ootherm/alert/mqtt/mqtttest"
)

// house is a state that a test changes.
type house struct {
	mu    sync.Mutex
	state map[string][]byte
	asked chan struct{}
}

func (h *house) current() map[string]mqtt.Retained {
	h.mu.Lock()
	defer h.mu.Unlock()
	select {
	case h.asked <- struct{}{}:
	default:
	}
	all := map[string]mqtt.Retained{}
	for topic, payload := range h.state {
		all[topic] = mqtt.Retained{Payload: payload, Same: string(payload)}
	}
	return all
}

func (h *house) set(state map[string][]byte) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.state = state
}

// until waits for the broker to keep something.
func until(t *testing.T, port string, want map[string]string) {
	t.Helper()
	limit, tick := time.After(20*time.Second), time.NewTicker(20*time.Millisecond)
	defer tick.Stop()
	for {
		got := mqtttest.Retained(t, port)
		if maps.Equal(got, want) {
			return
		}
		select {
		case <-tick.C:
		case <-limit:
			t.Fatalf("the broker keeps %q, want %q", got, want)
		}
	}
}

func stateOf(t *testing.T, c mqtt.Config) *mqtt.State {
	t.Helper()
	c.Station, c.Dial = "egg room", new(net.Dialer).DialContext
	s, err := mqtt.NewState(c)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// The broker keeps what is so: all of it from the first moment, changes, what went;
// online while the station is there, and offline when it took its leave.
func TestStateIsKept(t *testing.T) {
	port := mqtttest.Broker(t)
	h := &house{state: map[string][]byte{"eggs/state/zone/room": []byte(`{"temperature_c":23.3}`), "eggs/state/alarm/x": []byte(`{"state":"normal"}`)}}
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() {
		defer close(done)
		stateOf(t, mqtt.Config{URL: "mqtt://127.0.0.1:" + port, Topic: "eggs/"}).Keep(ctx, 10*time.Millisecond, mqtt.Publication{Current: h.current, Report: func(err error) { t.Errorf("failed: %v", err) }})
	}()
	until(t, port, map[string]string{"eggs/status": "online", "eggs/state/zone/room": `{"temperature_c":23.3}`, "eggs/state/alarm/x": `{"state":"normal"}`})
	h.set(map[string][]byte{"eggs/state/zone/room": []byte(`{"temperature_c":21.9}`)})
	until(t, port, map[string]string{"eggs/status": "online", "eggs/state/zone/room": `{"temperature_c":21.9}`})
	cancel()
	<-done
	until(t, port, map[string]string{"eggs/status": "offline", "eggs/state/zone/room": `{"temperature_c":21.9}`})
}

// What does not change is not said again: a room that stands still writes nothing
// to the broker's disk.
func TestStateThatStandsStillIsSaidOnce(t *testing.T) {
	port := mqtttest.Broker(t)
	heard := listen(t, port)
	h := &house{state: map[string][]byte{"ootherm/egg room/state/zone/room": []byte("a")}, asked: make(chan struct{})}
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() {
		defer close(done)
		stateOf(t, mqtt.Config{URL: "mqtt://127.0.0.1:" + port}).Keep(ctx, time.Millisecond, mqtt.Publication{Current: h.current, Report: func(err error) { t.Errorf("failed: %v", err) }})
	}()
	for range 20 {
		<-h.asked
	}
	cancel()
	<-done
	var topics []string
	for len(topics) == 0 || topics[len(topics)-1] != "ootherm/egg room/status=offline" {
		p := <-heard
		topics = append(topics, p.Topic+"="+string(p.Payload))
	}
	if want := []string{"ootherm/egg room/status=online", "ootherm/egg room/state/zone/room=a", "ootherm/egg room/status=offline"}; !slices.Equal(topics, want) {
		t.Errorf("heard %q, want %q", topics, want)
	}
}

// A station whose connection is cut without a word is offline to all who ask, and
// online again with all it knows once it comes back.
func TestTheBrokerSaysThatTheStationIsGone(t *testing.T) {
	port := mqtttest.Broker(t)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	wires := make(chan net.Conn, 4)
	go func() {
		for {
			near, err := l.Accept()
			if err != nil {
				return
			}
			far, err := net.Dial("tcp", "127.0.0.1:"+port)
			if err != nil {
				t.Error(err)
				return
			}
			go relay(near, far)
			go relay(far, near)
			wires <- far
		}
	}()
	h := &house{state: map[string][]byte{"ootherm/egg room/state/zone/room": []byte("a")}}
	ctx, cancel := context.WithCancel(t.Context())
	failed := make(chan error, 4)
	s := stateOf(t, mqtt.Config{URL: "mqtt://" + l.Addr().String()})
	again := make(chan struct{})
	mqtt.SetWait(s, func(int) time.Duration { <-again; return 0 })
	done := make(chan struct{})
	go func() {
		defer close(done)
		s.Keep(ctx, time.Second, mqtt.Publication{Current: h.current, Report: func(err error) { failed <- err }})
	}()
	until(t, port, map[string]string{"ootherm/egg room/status": "online", "ootherm/egg room/state/zone/room": "a"})
	_ = (<-wires).Close()
	if err := <-failed; err == nil || !strings.Contains(err.Error(), "connection was lost") {
		t.Errorf("the loss is told as %v", err)
	}
	until(t, port, map[string]string{"ootherm/egg room/status": "offline", "ootherm/egg room/state/zone/room": "a"})
	h.set(map[string][]byte{"ootherm/egg room/state/zone/room": []byte("b")})
	close(again)
	if err := <-failed; err != nil {
		t.Errorf("the broker is back, and what is told is %v", err)
	}
	until(t, port, map[string]string{"ootherm/egg room/status": "online", "ootherm/egg room/state/zone/room": "b"})
	cancel()
	<-done
}

func relay(to, from net.Conn) {
	buf := make([]byte, 4096)
	for {
		n, err := from.Read(buf)
		if err == nil {
			_, err = to.Write(buf[:n])
		}
		if err != nil {
			_ = to.Close()
			_ = from.Close()
			return
		}
	}
}

// Over TLS a broker without a trusted certificate gets nothing, and one whose own
// certificate is named gets messages and state.
func TestOverTLS(t *testing.T) {
	cert, key := mqtttest.Certificate(t)
	stranger, _ := mqtttest.Certificate(t)
	port := mqtttest.Broker(t, "certfile "+cert, "keyfile "+key)
	none := filepath.Join(t.TempDir(), "none.pem")
	if err := os.WriteFile(none, []byte("no certificate\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	c := mqtt.Config{URL: "mqtts://127.0.0.1:" + port}
	for name, file := range map[string]string{"the system's": "", "a stranger's": stranger, "none in the file": none, "no file": none + "x"} {
		c.CAFile = file
		if err := sender(t, c).Send(t.Context(), hot); err == nil || errors.Is(err, alert.ErrPermanent) {
			t.Errorf("%s: %v, want it not to be sent, and tried again", name, err)
		}
	}
	c.CAFile = cert
	if err := sender(t, c).Send(t.Context(), hot); err != nil {
		t.Errorf("its own: %v", err)
	}
	plain := mqtt.Config{URL: "mqtt://127.0.0.1:" + port}
	if err := sender(t, plain).Send(t.Context(), hot); err == nil {
		t.Error("a broker that wants TLS took a message in the clear")
	}
	h := &house{state: map[string][]byte{}, asked: make(chan struct{})}
	ctx, cancel := context.WithCancel(t.Context())
	go func() { <-h.asked; cancel() }()
	stateOf(t, c).Keep(ctx, time.Second, mqtt.Publication{Current: h.current, Report: func(err error) { t.Errorf("the state: %v", err) }})
	if ctx.Err() == nil {
		t.Error("the state was never asked for")
	}
}

// Over TLS, with a password and an access list, a station keeps its state where it may read and
// write, sends its messages there, and takes away what an earlier start left. Where it may only
// write, what was left stays. A topic that it may not write is told as that.
func TestOverTLSWithAnAccessList(t *testing.T) {
	cert, key := mqtttest.Certificate(t)
	dir := t.TempDir()
	password, access := filepath.Join(dir, "password"), filepath.Join(dir, "access")
	// The rules before the first user are those of who does not log in.
	rules := "topic read #\ntopic readwrite end\nuser keeper\ntopic readwrite eggs/#\ntopic write room/#\ntopic read room/status\n"
	for file, text := range map[string]string{password: "correct horse\n", access: rules} {
		if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	secure := mqtttest.FreePort(t)
	port := mqtttest.Broker(t, "acl_file "+access, "listener "+secure+" 127.0.0.1", "certfile "+cert, "keyfile "+key)
	c := mqtt.Config{URL: "mqtts://127.0.0.1:" + secure, User: "keeper", PasswordFile: password, CAFile: cert}
	// keep has a station keep a state below a topic until the broker has what is wanted.
	keep := func(topic, state string, want map[string]string) {
		c.Topic = topic
		h := &house{state: map[string][]byte{topic + "/state/zone/" + state: []byte("a")}}
		ctx, cancel := context.WithCancel(t.Context())
		done := make(chan struct{})
		go func() {
			defer close(done)
			stateOf(t, c).Keep(ctx, 10*time.Millisecond, mqtt.Publication{Current: h.current, Own: []string{topic + "/state/#"}, Report: func(err error) { t.Errorf("%s: %v", topic, err) }})
		}()
		until(t, port, want)
		cancel()
		<-done
	}
	keep("eggs", "old", map[string]string{"eggs/status": "online", "eggs/state/zone/old": "a"})
	keep("eggs", "new", map[string]string{"eggs/status": "online", "eggs/state/zone/new": "a"})
	keep("room", "old", map[string]string{"eggs/status": "offline", "eggs/state/zone/new": "a", "room/status": "online", "room/state/zone/old": "a"})
	kept := map[string]string{"eggs/status": "offline", "eggs/state/zone/new": "a", "room/status": "online", "room/state/zone/old": "a", "room/state/zone/new": "a"}
	keep("room", "new", kept)

	heard := listen(t, port)
	for topic, allowed := range map[string]bool{"eggs": true, "other": false} {
		c.Topic = topic
		err := sender(t, c).Send(t.Context(), hot)
		if allowed != (err == nil) || !allowed && !strings.HasSuffix(err.Error(), " refuses a message to the topic other/critical: not authorized") {
			t.Errorf("a message below %s: %v", topic, err)
		}
	}
	for p := range heard {
		if p.Topic == "eggs/critical" {
			break
		}
		if strings.HasPrefix(p.Topic, "other") {
			t.Errorf("the broker published %s", p.Topic)
		}
	}
	c.Topic = "other"
	told := make(chan error, 1)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	go stateOf(t, c).Keep(ctx, time.Second, mqtt.Publication{Current: new(house).current, Report: func(err error) { told <- err; cancel() }})
	if err := <-told; err == nil || !strings.HasSuffix(err.Error(), " refuses a message to the topic other/status: not authorized") {
		t.Errorf("a state that may not be kept is told as %v", err)
	}
	kept["room/status"] = "offline"
	until(t, port, kept)
}

// What an earlier start left at the broker, as the zone before it was renamed, goes at the
// next connection, also under a topic that is the station's no longer. What is another's stays.
func TestLeftoversGo(t *testing.T) {
	port := mqtttest.Broker(t)
	keep := func(h *house, own ...string) (stop func()) {
		ctx, cancel := context.WithCancel(t.Context())
		done := make(chan struct{})
		go func() {
			defer close(done)
			stateOf(t, mqtt.Config{URL: "mqtt://127.0.0.1:" + port, Topic: "eggs"}).Keep(ctx, 10*time.Millisecond, mqtt.Publication{Current: h.current, Own: own, Report: func(err error) { t.Error(err) }})
		}()
		return func() { cancel(); <-done }
	}
	stop := keep(&house{state: map[string][]byte{"eggs/state/zone/old": []byte("a"), "ootherm/state/zone/old": []byte("b"), "other/state/zone/x": []byte("c")}})
	until(t, port, map[string]string{"eggs/status": "online", "eggs/state/zone/old": "a", "ootherm/state/zone/old": "b", "other/state/zone/x": "c"})
	stop()
	stop = keep(&house{state: map[string][]byte{"eggs/state/zone/new": []byte("d")}}, "eggs/state/#", "ootherm/state/#")
	until(t, port, map[string]string{"eggs/status": "online", "eggs/state/zone/new": "d", "other/state/zone/x": "c"})
	stop()
}
