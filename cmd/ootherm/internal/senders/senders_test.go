package senders_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/benchtest"
	"example.com/ootherm/cmd/ootherm/internal/check"
	"example.com/ootherm/cmd/ootherm/internal/senders"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
)

func at(second int64) func() time.Time {
	return func() time.Time { return time.Unix(1_780_000_000+second, 0) }
}

// A test message goes through the sender as an alarm does, with its template, its headers
// and its signature. The command prints the server's answer.
func TestSendTest(t *testing.T) {
	var got []byte
	var header http.Header
	answer := http.StatusOK
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		header = r.Header
		got, _ = io.ReadAll(r.Body)
		w.WriteHeader(answer)
	}))
	defer server.Close()
	secret := filepath.Join(t.TempDir(), "secret")
	if err := os.WriteFile(secret, []byte("hush\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	path := benchtest.Written(t, fmt.Sprintf(`[[sender]]
name = "push"
kind = "webhook"
url = %q
body = '{"text": {{json .Subject}}}'
secret_file = %q
headers = { "X-Token" = "t0ken" }
quiet = { from = "22:00", to = "07:00" }
most_an_hour = 4
`, server.URL+"/h1dden", secret))
	var output bytes.Buffer
	if err := senders.SendTest(t.Context(), &output, path, "push", at(0)); err != nil {
		t.Fatal(err)
	}
	var body struct{ Text string }
	if err := json.Unmarshal(got, &body); err != nil || !strings.Contains(body.Text, "TEST of egg room") {
		t.Errorf("posted %s (%v), want the template with the subject", got, err)
	}
	if header.Get("X-Token") != "t0ken" || header.Get("Ootherm-Signature") == "" {
		t.Errorf("headers %v, want the configured one and a signature", header)
	}
	if !strings.HasPrefix(output.String(), "push took the test message") {
		t.Errorf("said %q", output.String())
	}
	answer = http.StatusInternalServerError
	err := senders.SendTest(t.Context(), &output, path, "push", at(1))
	if err == nil || !strings.Contains(err.Error(), "push did not take") || !strings.Contains(err.Error(), "500") {
		t.Errorf("a server that fails: %v", err)
	}
	answer = http.StatusBadRequest
	err = senders.SendTest(t.Context(), &output, path, "push", at(2))
	if err == nil || !strings.Contains(err.Error(), "refused") {
		t.Errorf("a server that refuses: %v", err)
	}
	for _, hidden := range []string{"h1dden", "t0ken", "hush"} {
		if strings.Contains(err.Error()+output.String(), hidden) {
			t.Errorf("%q shows a secret, %q", err, hidden)
		}
	}
	err = senders.SendTest(t.Context(), &output, path, "mail", at(3))
	if err == nil || !usererr.IsUsage(err) || !strings.Contains(err.Error(), "push") {
		t.Errorf("an unknown sender: %v, want the senders that exist", err)
	}
}

// On a machine without outputs a buzzer fails when it has to sound, and not when the
// station starts.
func TestBuzzerWithoutBoard(t *testing.T) {
	path := benchtest.Written(t, "[[sender]]\nname = \"bell\"\nkind = \"buzzer\"\noutput = \"GPIO0\"\n[[sender]]\nname = \"light\"\nkind = \"lamp\"\noutput = \"GPIO1\"\n")
	var output bytes.Buffer
	if err := check.Configuration(&output, path); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	if err := senders.SendTest(ctx, &output, path, "bell", at(0)); err == nil || !strings.Contains(err.Error(), "GPIO0") {
		t.Errorf("sounding it: %v, want the output's name", err)
	}
	if err := senders.SendTest(ctx, &output, path, "light", at(0)); err == nil {
		t.Error("a lamp took a message")
	}
}

// A sender of each kind can be made from its keys. An error in a key is an error of the
// configuration.
func TestEveryKindCanBeMade(t *testing.T) {
	var output bytes.Buffer
	path := benchtest.Written(t, `[[sender]]
name = "broker"
kind = "mqtt"
url = "mqtt://127.0.0.1:1883"
topic = "eggs"
[[sender]]
name = "fleet"
kind = "alertmanager"
url = "http://127.0.0.1:9093"
after = "15m"
`)
	if err := check.Configuration(&output, path); err != nil {
		t.Fatal(err)
	}
	if want := "fleet after 15 min, unless it has been seen by then."; !strings.Contains(output.String(), want) {
		t.Errorf("said %s\nwant %s", output.String(), want)
	}
	path = benchtest.Written(t, "[[sender]]\nname = \"push\"\nkind = \"webhook\"\nurl = \"https://x.example.org/\"\nbody = \"{{.Nothing}}\"\n")
	if err := check.Configuration(&output, path); err == nil || !usererr.IsUsage(err) || !strings.Contains(err.Error(), "push") {
		t.Errorf("a template with an unknown name: %v", err)
	}
}
