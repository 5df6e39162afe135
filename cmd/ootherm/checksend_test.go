package main

import (
	"strings"
	"syscall"
	"testing"
)

// While the station runs, its own process sends the test message, also with a configuration
// that only it has read. Where none runs, the command sends it.
func TestTestMessageLeavesByTheRunningStation(t *testing.T) {
	r := newEggRoom(t)
	r.start()
	if text := string(r.get("/metrics")); !strings.Contains(text, `ootherm_delivery_attempts_total{result="refused",sender="mail"} 0`) {
		t.Errorf("the attempts of the sender are not counted:\n%s", text)
	}
	file := string(must(t, r.config))
	put(t, r.dir, "ootherm.toml", strings.Replace(file, "\nport = ", "\nport = 1 # ", 1))
	got := do(t, "", "check", "--config", r.config, "--send", "mail")
	if got.code != 0 || !strings.Contains(got.out, "mail took the test message of the running station in ") {
		t.Errorf("%+v", got)
	}
	if !strings.Contains(r.said(), `msg="a test message was delivered" sender=mail`) {
		t.Errorf("the station says nothing of it:\n%s", r.said())
	}
	got = do(t, "", "check", "--config", r.config, "--send", "post")
	if got.code != 2 || !strings.Contains(got.errout, `no sender that carries messages is named "post"; there is mail`) {
		t.Errorf("of an unknown sender: %+v", got)
	}
	r.end(syscall.SIGTERM)
	if texts, _ := r.mail.told("This is a test."); len(texts) != 1 {
		t.Errorf("%d mails came", len(texts))
	}
	put(t, r.dir, "ootherm.toml", file)
	got = do(t, "", "check", "--config", r.config, "--send", "mail")
	if got.code != 0 || strings.Contains(got.out, "running station") {
		t.Errorf("without a station: %+v", got)
	}
	if texts, _ := r.mail.told("This is a test."); len(texts) != 2 {
		t.Errorf("%d mails came", len(texts))
	}
}
