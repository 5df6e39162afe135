//go:build tools

package alertmanager_test

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
)

// receiver starts a real one (Debian: package prometheus-alertmanager) on
// loopback, and gives its address.
func receiver(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := l.Addr().String()
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	conf := filepath.Join(dir, "conf.yml")
	if err := os.WriteFile(conf, []byte("route: {receiver: none}\nreceivers: [{name: none}]\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("prometheus-alertmanager", "--config.file="+conf, "--storage.path="+dir,
		"--web.listen-address="+address, "--cluster.listen-address=", "--log.level=debug")
	log, err := cmd.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatalf("prometheus-alertmanager, of Debian's package of that name: %v", err)
	}
	said := bufio.NewScanner(log)
	var heard strings.Builder
	for running := false; !running; {
		if !said.Scan() {
			t.Fatalf("it ended: %v, %v\n%s", cmd.Wait(), said.Err(), heard.String())
		}
		fmt.Fprintln(&heard, said.Text())
		running = strings.Contains(strings.ToLower(said.Text()), "listening")
	}
	drained := make(chan struct{})
	go func() {
		defer close(drained)
		_, _ = io.Copy(io.Discard, log) // lest it block on a full pipe
	}()
	t.Cleanup(func() {
		if err := cmd.Process.Kill(); err != nil {
			t.Error(err)
		}
		<-drained
		_ = cmd.Wait() // killed is how it ends
	})
	return "http://" + address
}

// shown is an alert as the receiver gives it back.
type shown struct {
	Labels      map[string]string `json:"labels"`
	Annotations map[string]string `json:"annotations"`
	StartsAt    time.Time         `json:"startsAt"`
	EndsAt      time.Time         `json:"endsAt"`
}

func active(t *testing.T, url string) (all []shown) {
	t.Helper()
	resp, err := http.Get(url + "/api/v2/alerts")
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	if err := json.NewDecoder(resp.Body).Decode(&all); err != nil {
		t.Fatal(err)
	}
	return all
}

func TestRaisedAndOver(t *testing.T) {
	url := receiver(t)
	s := sender(t, url)
	for range 2 { // a repeated delivery is the same alert
		if err := s.Send(t.Context(), message(false)); err != nil {
			t.Fatal(err)
		}
	}
	got := active(t, url)
	if len(got) != 1 {
		t.Fatalf("%d alerts: %+v", len(got), got)
	}
	want := map[string]string{"alertname": "temperature-high", "priority": "critical", "zone": "egg room", "probe": "p", "station": "shed"}
	if fmt.Sprint(got[0].Labels) != fmt.Sprint(want) {
		t.Errorf("labels %v, want %v", got[0].Labels, want)
	}
	if a := got[0].Annotations; a["summary"] != "ROOM too warm" || a["description"] != "Since 14:07.\n" || a["message"] != message(false).ID {
		t.Errorf("annotations %v", a)
	}
	if got[0].EndsAt.Sub(got[0].StartsAt) < 23*time.Hour {
		t.Errorf("it stands from %v to %v", got[0].StartsAt, got[0].EndsAt)
	}
	if err := s.Send(t.Context(), message(true)); err != nil {
		t.Fatal(err)
	}
	if got := active(t, url); len(got) != 0 {
		t.Errorf("it is over, and stands: %+v", got)
	}
	if err := s.Send(t.Context(), alert.Message{ID: "test/1", At: time.Now(), Priority: alert.Notice, Subject: "a test"}); err != nil {
		t.Fatal(err)
	}
	if got := active(t, url); len(got) != 1 || got[0].Labels["alertname"] != "message" {
		t.Errorf("a message of no alarm: %+v", got)
	}
}
