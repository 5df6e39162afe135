package scrape

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/sensortest"
)

// A device that asks for a token or a password gets it from the file, which is read at each
// attempt. No error repeats it.
func TestLogin(t *testing.T) {
	asked := ""
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, q *http.Request) {
		asked = q.Header.Get("Authorization")
		user, password, _ := q.BasicAuth()
		if asked != "Bearer warm" && !(user == "eggs" && password == "warm") {
			w.WriteHeader(http.StatusUnauthorized)
			return
		}
		w.Header().Set("Content-Type", plain)
		fmt.Fprint(w, text(0))
	}))
	defer s.Close()
	file := filepath.Join(t.TempDir(), "token")
	measure := func(user, secret string) (sensor.Measurement, error) {
		if err := os.WriteFile(file, []byte(secret), 0o600); err != nil {
			t.Fatal(err)
		}
		p, err := New(Options{URL: s.URL, Temperature: shelf("room_temperature_celsius"), Now: time.Now,
			Client: http.DefaultClient, User: user, PasswordFile: file})
		if err != nil {
			t.Fatal(err)
		}
		return p.Measure(t.Context())
	}
	for _, user := range []string{"", "eggs"} {
		if m, err := measure(user, "warm\n"); err != nil || m.Celsius != 23.5 {
			t.Errorf("user %q: %v, %v", user, m, err)
		}
		m, err := measure(user, "secret-guess\n")
		sensortest.Refused(t, m, err, sensor.NoAnswer)
		if !strings.Contains(err.Error(), "password_file") || strings.Contains(err.Error(), "secret-guess") {
			t.Errorf("user %q: the refusal is %v", user, err)
		}
	}
	asked = "nothing"
	if m, err := measure("", " \n"); err == nil || asked != "nothing" {
		t.Errorf("an empty file gives %v, and %q was sent", m, asked)
	}
	if err := os.Remove(file); err != nil {
		t.Fatal(err)
	}
	p, err := New(Options{URL: s.URL, Temperature: Metric{Name: "c"}, Now: time.Now, Client: http.DefaultClient, PasswordFile: file})
	if err != nil {
		t.Fatal(err)
	}
	m, err := p.Measure(t.Context())
	sensortest.Refused(t, m, err, sensor.NoAnswer)
	if asked != "nothing" {
		t.Errorf("without the file, %q was sent", asked)
	}
}
