package setup

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/benchtest"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/inventorytest"
	"example.com/ootherm/cmd/ootherm/internal/passphrase"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/sensor/inventory"
)

// asked runs a setup on a machine without a bus. It answers all questions before that of
// the senders; the answers given follow.
func asked(t *testing.T, file string, answers ...string) (string, error) {
	t.Helper()
	root := t.TempDir()
	bare := inventory.Places{I2C: root, W1: root, IIO: root, Hwmon: root, Wait: inventorytest.NoWait}
	var out strings.Builder
	err := Run(t.Context(), Options{Config: file, Places: bare, Out: &out, Now: benchtest.Noon,
		networkNames: func() (string, []string) { return "eggpi", []string{"192.0.2.7", "198.51.100.9"} },
		In:           benchtest.Script(t, append([]string{"f", "", "", "", "74", "1", "", "", "y"}, answers...)...)})
	return out.String(), err
}

// Setup asks for every kind of sender, and for a wrong answer again. No secret is in the
// configuration, and only its owner may read the file that holds it.
func TestSetupOffersEveryKindOfSender(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "egg.toml")
	got := make(chan string, 1)
	hook := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) { got <- r.Header.Get("Content-Type") }))
	defer hook.Close()
	out, err := asked(t, file,
		"email", "", "smtp.example.org:465", "keeper", "keeper@example.org, neighbour", "keeper@example.org, neighbour@example.org", "", "keeper", "", "four warm eggs",
		"webhook", "", "ftp://x", hook.URL, "email", "hook", // addresses that are none, a name that is taken
		"y", "hush", "y",
		"MQTT", "mqtt://127.0.0.1:1883", "", "station", "hush too", "n",
		"alertmanager", "http://127.0.0.1:9093", "",
		"buzzer", "GPIO99", "GPIO17", "", "lamp", "GPIO17", "gpio27", "", "lamp", "22", "", "", // no such place, one that is taken
		"", filepath.Join(dir, "data"), "n", "", "y",
		"n", "y", "n", "n", "n")
	if err != nil {
		t.Fatalf("%v after\n%s", err, out)
	}
	<-got
	c, err := config.Load(file, probeconfig.Drivers())
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, s := range c.Senders {
		names = append(names, s.Kind+" "+s.Name)
	}
	if want := "email email, webhook hook, mqtt mqtt, alertmanager alertmanager, buzzer buzzer, lamp lamp, lamp lamp-2"; strings.Join(names, ", ") != want {
		t.Errorf("senders %q, want %q", names, want)
	}
	if a, b, d := c.Senders[4].Output, c.Senders[5].Output, c.Senders[6].Output; a != "GPIO17" || b != "GPIO27" || d != "GPIO22" {
		t.Errorf("outputs %s, %s, %s", a, b, d)
	}
	if s := c.Senders[0]; s.TLS != "tls" || len(s.To) != 2 || s.User != "keeper" {
		t.Errorf("mail: %+v", s)
	}
	if c.Senders[1].After == 0 || c.Senders[2].After != 0 {
		t.Errorf("after: %v, %v; want the first alone", c.Senders[1].After, c.Senders[2].After)
	}
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	for path, secret := range map[string]string{c.Senders[0].PasswordFile: "four warm eggs", c.Senders[1].SecretFile: "hush", c.Senders[2].PasswordFile: "hush too"} {
		info, err := os.Stat(path)
		if err != nil || info.Mode().Perm() != 0o600 {
			t.Errorf("%s: %v, %v; want it for its owner alone", path, info, err)
		}
		if b, err := os.ReadFile(path); err != nil || string(b) != secret+"\n" {
			t.Errorf("%s holds %q, %v", path, b, err)
		}
		if strings.Contains(string(text), secret) {
			t.Errorf("%q stands in the configuration", secret)
		}
	}
	for _, want := range []string{"Nothing was typed. Write the mail server", "Nothing was typed. Write the address to post to", `"email" is another's name already`, "Not accepted: url", `Not accepted: to "keeper" is not a mail address`, `Not accepted: to "neighbour" is not a mail address`, `Not accepted: output "GPIO99" is not an output of the board`, "Not accepted: output GPIO17 is taken", "hook took the test message"} {
		if !strings.Contains(out, want) {
			t.Errorf("not shown: %q in\n%s", want, out)
		}
	}
}

// An existing secret is neither asked for nor written over. A test message that does not
// go out is reported with the command that tries again.
func TestSetupKeepsAnExistingSecret(t *testing.T) {
	dir := t.TempDir()
	file, secret := filepath.Join(dir, "egg.toml"), filepath.Join(dir, "hook.secret")
	if err := os.WriteFile(secret, []byte("old\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	down := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusBadGateway) }))
	defer down.Close()
	out, err := asked(t, file, "webhook", down.URL, "hook", "y", "", "", filepath.Join(dir, "data"), "n", "", "y", "y")
	if err == nil || usererr.IsUsage(err) || !strings.Contains(err.Error(), "setup is complete and "+file+" is written; only the test message by hook did not go out") {
		t.Errorf("%v after\n%s", err, out)
	}
	for _, want := range []string{"hook.secret is there already and stays as it is", "It did not go out", `check --config ` + file + ` --send "hook"`, "Next: "} {
		if !strings.Contains(out, want) {
			t.Errorf("not shown: %q in\n%s", want, out)
		}
	}
	if b, err := os.ReadFile(secret); err != nil || string(b) != "old\n" {
		t.Errorf("the secret is now %q, %v", b, err)
	}
}

// A page opened to the home network gets a passphrase, and its address is shown as text and
// as a code. A passphrase that is set already stays.
func TestSetupOpensThePage(t *testing.T) {
	dir := t.TempDir()
	file, data := filepath.Join(dir, "egg.toml"), filepath.Join(dir, "data")
	out, err := asked(t, file, "", "", data, "y", "nowhere", "", "short", "four warm eggs", "four cold eggs", "four warm eggs", "four warm eggs", "", "y")
	if err != nil {
		t.Fatalf("%v after\n%s", err, out)
	}
	c, err := config.Load(file, probeconfig.Drivers())
	if err != nil || c.Station.Listen != "0.0.0.0:8080" || c.Station.URL != "http://eggpi.local:8080" {
		t.Errorf("%+v, %v", c.Station, err)
	}
	if right, err := passphrase.FileIn(data).Right("four warm eggs"); err != nil || !right {
		t.Errorf("the passphrase is not the one that was given: %v", err)
	}
	for _, want := range []string{"It has 5 characters; use 8 or more", "The two are not the same", "Not accepted: url", "page is at http://eggpi.local:8080;",
		"█", "http://192.0.2.7:8080 or http://198.51.100.9:8080", "is in order"} {
		if !strings.Contains(out, want) {
			t.Errorf("not shown: %q in\n%s", want, out)
		}
	}
	out, err = asked(t, file+"2", "", "", data, "y", "", "", "y")
	if err != nil || !strings.Contains(out, "A passphrase is set already and stays") {
		t.Errorf("%v after\n%s", err, out)
	}
}

// Answers that end before the last question leave nothing written.
func TestSetupWritesNothingBeforeTheLastAnswer(t *testing.T) {
	dir := t.TempDir()
	answers := []string{"email", "smtp.example.org", "keeper@example.org", "", "keeper", "four warm eggs", "", "", filepath.Join(dir, "data"), "y", "", "four warm eggs", "four warm eggs", "", "y"}
	for n := range answers {
		if out, err := asked(t, filepath.Join(dir, "egg.toml"), answers[:n]...); err == nil || !strings.Contains(err.Error(), "nothing was written") {
			t.Errorf("after %d answers: %v\n%s", n, err, out)
		}
		if left, err := os.ReadDir(dir); err != nil || len(left) > 0 {
			t.Fatalf("after %d answers there is %v, %v", n, left, err)
		}
	}
	answers[len(answers)-1] = "n"
	if _, err := asked(t, filepath.Join(dir, "egg.toml"), answers...); err == nil {
		t.Error("told not to write, it ends well")
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) > 0 {
		t.Errorf("told not to write it leaves %v, %v", left, err)
	}
}

// A setup that fails while it writes leaves nothing behind: otherwise the next setup would
// take the old password for the new one.
func TestSetupThatCannotWriteLeavesNothing(t *testing.T) {
	root := t.TempDir()
	bare := inventory.Places{I2C: root, W1: root, IIO: root, Hwmon: root, Wait: inventorytest.NoWait}
	left := func(dir string) (names []string) {
		all, err := os.ReadDir(dir)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range all {
			names = append(names, e.Name())
		}
		return names
	}
	for name, c := range map[string]struct {
		spoil func(dir string) // before the last answer
		want  string           // what is there afterwards
	}{
		"the configuration is there by then": {func(dir string) { benchtest.Lay(t, dir, map[string]string{"egg.toml": "theirs"}) }, "[egg.toml]"},
		"a second secret is there by then":   {func(dir string) { benchtest.Lay(t, dir, map[string]string{"hook.secret": "theirs"}) }, "[hook.secret]"},
		"the folder for the data is a file":  {func(dir string) { benchtest.Lay(t, dir, map[string]string{"data": "a file"}) }, "[data]"},
	} {
		dir := t.TempDir()
		p := benchtest.Script(t, "f", "", "", "", "74", "1", "", "", "y", "email", "smtp.example.org", "keeper@example.org", "", "keeper", "four warm eggs",
			"webhook", "http://127.0.0.1:1/x", "hook", "y", "hush", "n", "", "", filepath.Join(dir, "data"), "y", "", "four warm eggs", "four warm eggs", "")
		p.Lines = append(p.Lines, benchtest.Step{Line: "y", Do: func() { c.spoil(dir) }})
		var out strings.Builder
		err := Run(t.Context(), Options{Config: filepath.Join(dir, "egg.toml"), Places: bare, Out: &out, Now: benchtest.Noon, In: p,
			networkNames: func() (string, []string) { return "eggpi", nil }})
		if err == nil || !strings.Contains(err.Error(), "nothing was written") {
			t.Errorf("%s: %v after\n%s", name, err, out.String())
		}
		if got := fmt.Sprint(left(dir)); got != c.want {
			t.Errorf("%s: %s is left, want %s", name, got, c.want)
		}
		if b, err := os.ReadFile(filepath.Join(dir, strings.Trim(c.want, "[]"))); err != nil || string(b) != "theirs" && string(b) != "a file" {
			t.Errorf("%s: theirs is now %q, %v", name, b, err)
		}
	}
}

// An empty file of a secret is replaced by the secret that is typed.
func TestSetupReplacesAnEmptySecret(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "egg.toml")
	benchtest.Lay(t, dir, map[string]string{"hook.secret": "\n"})
	out, err := asked(t, file, "webhook", "http://127.0.0.1:1/x", "hook", "y", "hush", "", "", filepath.Join(dir, "data"), "n", "", "y", "n")
	if b, read := os.ReadFile(filepath.Join(dir, "hook.secret")); err != nil || read != nil || string(b) != "hush\n" {
		t.Errorf("%v, %v; the secret is %q, after\n%s", err, read, b, out)
	}
}
