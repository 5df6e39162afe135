package config

import (
	"fmt"
	"math"
	"net"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2/unstable"
)

// table reads the values of one section by key. What is asked for is known;
// done refuses the rest.
type table struct {
	*file
	node  *node
	path  string
	asked []string
}

func (f *file) table(n *node, path string) *table {
	return &table{file: f, node: n, path: path}
}

// get is the value of a key, or nil.
func (t *table) get(name string) *node {
	t.asked = append(t.asked, name)
	if k := t.node.find(name); k != nil {
		return k.node
	}
	return nil
}

func (t *table) join(name string) string {
	if t.path == "" || name == "" {
		return t.path + name
	}
	return t.path + "." + name
}

// fault tells what is wrong with a key: at its value, or at the section's head
// where the key is absent.
func (t *table) fault(name, why string, args ...any) {
	at := t.node.at
	if k := t.node.find(name); k != nil {
		at = k.node.at
	}
	t.add(at, t.join(name), fmt.Sprintf(why, args...))
}

// missing tells of an absent key, unless the file broke off before it.
func (t *table) missing(name, why string, args ...any) {
	if !t.broken {
		t.fault(name, "is missing; "+why, args...)
	}
}

// polling is fault for what matters only to a station that polls its probes.
func (t *table) polling(name, why string, args ...any) {
	if !t.replay {
		t.fault(name, why, args...)
	}
}

// done refuses every key that nothing asked for. hints has better advice for
// some of them.
func (t *table) done(hints ...map[string]string) {
	for _, k := range t.node.keys {
		if slices.Contains(t.asked, k.name) {
			continue
		}
		// A key may have been asked for by several, and in any order.
		advice := meant(k.name, slices.Compact(slices.Sorted(slices.Values(t.asked))))
		for _, h := range hints {
			if h[k.name] != "" {
				advice = h[k.name]
			}
		}
		t.add(k.at, t.join(k.name), "is not known here; "+advice)
	}
}

// of is the value of a key if it has the kind; another kind is a fault.
func (t *table) of(name string, kind unstable.Kind, how string) *node {
	n := t.get(name)
	if n == nil || n.kind == kind {
		return n
	}
	t.fault(name, "is %s; write %s", t.what(n), how)
	return nil
}

func (t *table) what(n *node) string {
	switch n.kind {
	case unstable.String:
		return fmt.Sprintf("the text %q", n.text)
	case unstable.Integer, unstable.Float:
		return "the bare number " + n.text
	case unstable.Bool:
		return n.text
	case unstable.Array:
		return "a list"
	case unstable.InlineTable:
		return "a section"
	}
	return "a date"
}

// text reads a key's text; absent is "".
func (t *table) text(name string) string {
	return t.written(name, `it in quotes`)
}

func (t *table) written(name, how string) string {
	n := t.of(name, unstable.String, how)
	if n == nil {
		return ""
	}
	if strings.TrimSpace(n.text) == "" {
		t.fault(name, "is empty; write %s, or leave the line out", how)
		return ""
	}
	return n.text
}

// named reads a name, which must be there and fit for a label.
func (t *table) named(what string) string {
	s := t.text("name")
	if s == "" {
		if t.node.find("name") == nil {
			t.missing("name", `give the %s one: name = "..."`, what)
		}
		return ""
	}
	if err := named(s); err != nil {
		t.fault("name", "%v", err)
	}
	return s
}

// choice reads one of several words; absent is the first.
func (t *table) choice(name string, words ...string) string {
	s := t.text(name)
	if s == "" {
		return words[0]
	}
	if !slices.Contains(words, s) {
		t.fault(name, "%q is not known; write %s: %s", s, "one of "+list(words), meant(s, words))
		return words[0]
	}
	return s
}

// united reads a text with a unit; absent or wrong is nil.
func united[T any](t *table, name, how string, read func(string) (T, error)) *T {
	n := t.get(name)
	if n == nil {
		return nil
	}
	if n.kind == unstable.Integer || n.kind == unstable.Float {
		t.fault(name, "%s has no unit; write %s", n.text, how)
		return nil
	}
	s := t.written(name, how)
	if s == "" {
		return nil
	}
	v, err := read(s)
	if err != nil {
		t.fault(name, "%v", err)
		return nil
	}
	return &v
}

// celsius reads an absolute temperature.
func (t *table) celsius(name string) *float64 {
	return united(t, name, `it as "74F" or "23.3C"`, celsius)
}

// kelvins reads a difference of temperatures.
func (t *table) kelvins(name string, absent float64) float64 {
	if v := united(t, name, `a difference as "0.5F" or "0.3C"`, kelvins); v != nil {
		return *v
	}
	return absent
}

// ratio reads a humidity.
func (t *table) ratio(name string) *float64 {
	return united(t, name, `it as "45%"`, ratio)
}

// span reads a duration.
func (t *table) span(name string, absent time.Duration) time.Duration {
	if v := united(t, name, `it as "10s", "5m" or "2d12h"`, span); v != nil {
		return *v
	}
	return absent
}

// between is span with bounds.
func (t *table) between(name string, absent, least, most time.Duration) time.Duration {
	d := t.span(name, absent)
	if d < least || d > most {
		t.fault(name, "is %v; write %v to %v", d, least, most)
		return absent
	}
	return d
}

// number reads a bare number between two bounds; how names its unit.
func (t *table) number(name, how string, least, most float64) *float64 {
	n := t.get(name)
	if n == nil {
		return nil
	}
	if n.kind != unstable.Integer && n.kind != unstable.Float {
		t.fault(name, "is %s; write %s", t.what(n), how)
		return nil
	}
	v, err := strconv.ParseFloat(strings.ReplaceAll(n.text, "_", ""), 64)
	if err != nil || math.IsNaN(v) || v < least || v > most {
		t.fault(name, "%s is outside %g..%g; write %s", n.text, least, most, how)
		return nil
	}
	return &v
}

// whole reads a bare whole number between two bounds.
func (t *table) whole(name, how string, least, most int64) *int {
	n := t.of(name, unstable.Integer, how)
	if n == nil {
		return nil
	}
	v, err := strconv.ParseInt(n.text, 0, 64)
	if err != nil || v < least || v > most {
		t.fault(name, "%s is outside %d..%d; write %s", n.text, least, most, how)
		return nil
	}
	i := int(v)
	return &i
}

// truth reads true or false; absent is false.
func (t *table) truth(name string) bool {
	n := t.of(name, unstable.Bool, "true or false, without quotes")
	return n != nil && n.text == "true"
}

// texts reads a list of texts, none of them twice.
func (t *table) texts(name string) []string {
	how := fmt.Sprintf(`a list: %s = ["...", "..."]`, name)
	n := t.of(name, unstable.Array, how)
	if n == nil {
		return nil
	}
	var all []string
	for _, item := range n.items {
		switch {
		case item.kind != unstable.String:
			t.add(item.at, t.join(name), fmt.Sprintf("has %s in it; write %s", t.what(item), how))
		case strings.TrimSpace(item.text) == "":
			t.add(item.at, t.join(name), "has an empty text in it; take it away")
		case slices.Contains(all, item.text):
			t.add(item.at, t.join(name), fmt.Sprintf("has %q twice; take one away", item.text))
		default:
			all = append(all, item.text)
		}
	}
	return all
}

// section is the table of a key, or nil.
func (t *table) section(name, how string) *table {
	n := t.of(name, unstable.InlineTable, how)
	if n == nil {
		return nil
	}
	return t.table(n, t.join(name))
}

// sections are the tables of a key that may come several times.
func (t *table) sections(name string) []*table {
	how := fmt.Sprintf("each as [[%s]]", t.join(name))
	if t.path != "" {
		how = fmt.Sprintf("a list: %s = [{ ... }, { ... }]", name)
	}
	n := t.of(name, unstable.Array, how)
	if n == nil {
		return nil
	}
	var all []*table
	for _, item := range n.items {
		if item.kind != unstable.InlineTable {
			t.add(item.at, t.join(name), fmt.Sprintf("has %s in it; write %s", t.what(item), how))
			continue
		}
		all = append(all, t.table(item, t.join(name)))
	}
	return all
}

// address reads an http or https address.
func (t *table) address(name string) string {
	s := t.text(name)
	if s == "" {
		return ""
	}
	u, err := url.Parse(s)
	if err != nil || u.Scheme != "http" && u.Scheme != "https" || u.Hostname() == "" {
		// It is not quoted: it may be a secret, and this ends up in the journal.
		t.fault(name, "is no address; write it whole, as https://host/path")
		return ""
	}
	return s
}

// loopback reports whether a host is this machine alone.
func loopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}
