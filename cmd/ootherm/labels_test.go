package main

import (
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// labelled gives the configuration an address for labels.
func labelled(t *testing.T, config string) {
	t.Helper()
	text, err := os.ReadFile(config)
	if err != nil {
		t.Fatal(err)
	}
	with := strings.Replace(string(text), "[station]\n", "[station]\nurl = \"http://eggroom.local:8080\"\n", 1)
	if err := os.WriteFile(config, []byte(with), 0o600); err != nil {
		t.Fatal(err)
	}
}

func TestLabels(t *testing.T) {
	config, _, _ := small(t)
	out := filepath.Join(t.TempDir(), "labels")
	if got := do(t, "", "labels", "--config", config, "--out", out); got.code != 2 || !strings.Contains(got.errout, "url = ") {
		t.Errorf("without an address: %d: %s", got.code, got.errout)
	}
	labelled(t, config)
	if got := do(t, "", "labels", "--config", config, "--out", out); got.code != 1 || !strings.Contains(got.errout, "no box is in use") {
		t.Errorf("of an empty book: %d: %s", got.code, got.errout)
	}
	book := `{"key":"a2","at":"2026-04-02T19:01:00Z","entry":"box","box":"B 1/ä","zone":"room"}
{"key":"a3","at":"2026-04-02T19:01:00Z","entry":"box","box":"B2","zone":"room"}`
	if got := do(t, book, "book", "add", "--config", config); got.code != 0 {
		t.Fatalf("%d: %s", got.code, got.errout)
	}
	for _, c := range []struct {
		args []string
		code int
		out  []string
		err  string
	}{
		{nil, 0, []string{"box-B%201%2F%C3%A4.png", "box-B2.png"}, ""},
		{[]string{"--box", "B2,B2", "--dpi", "300"}, 0, []string{"box-B2.png"}, ""},
		{[]string{"--box", "B2,B9"}, 1, nil, `no box "B9" is in use; in use: B 1/ä, B2`},
		{[]string{"--dpi", "72"}, 2, nil, "203, 300 or 600"},
	} {
		got := do(t, "", append([]string{"labels", "--config", config, "--out", out}, c.args...)...)
		if got.code != c.code || !strings.Contains(got.errout, c.err) {
			t.Errorf("%v: %d: %s", c.args, got.code, got.errout)
		}
		var names []string
		for _, line := range strings.Fields(got.out) {
			names = append(names, filepath.Base(line))
			f, err := os.Open(line)
			if err != nil {
				t.Fatal(err)
			}
			if img, err := png.DecodeConfig(f); err != nil || img.Width != 400 && c.args == nil || img.Width != 591 && c.args != nil {
				t.Errorf("%v: %s is %d dots wide, %v", c.args, line, img.Width, err)
			}
			_ = f.Close()
		}
		if strings.Join(names, " ") != strings.Join(c.out, " ") {
			t.Errorf("%v: %v, want %v", c.args, names, c.out)
		}
	}
}
