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

// table reads the values of one section by key. It remembers the keys that were read, and
// done reports the others.
type table struct {
	*file
	node  *node
	path  string
	asked []string
}

// table returns the table of a node.
func (f *file) table(n *node, path string) *table {
	return &table{file: f, node: n, path: path}
}

// get returns the value of a key, or nil.
func (t *table) get(name string) *node {
	t.asked = append(t.asked, name)
	if k := t.node.find(name); k != nil {
		return k.node
	}
	return nil
}

// join returns a key with the path of its section.
func (t *table) join(name string) string {
	if t.path == "" || name == "" {
		return t.path + name
	}
	return t.path + "." + name
}

// fault reports what is wrong with a key. Its place is the key's value, or the section's
// header if the key is absent.
func (t *table) fault(name, why string, args ...any) {
	at := t.node.at
	if k := t.node.find(name); k != nil {
		at = k.node.at
	}
	t.add(at, t.join(name), fmt.Sprintf(why, args...))
}

// missing reports an absent key, unless a syntax error hides the rest of the file.
func (t *table) missing(name, why string, args ...any) {
	if !t.broken {
		t.fault(name, "is missing; "+why, args...)
	}
}

// pollFault reports what matters only to a station that polls its probes.
func (t *table) pollFault(name, why string, args ...any) {
	if !t.replay {
		t.fault(name, why, args...)
	}
}

// done reports every key that was not read. The hints hold better advice for some of them.
func (t *table) done(hints ...map[string]string) {
	for _, k := range t.node.keys {
		if slices.Contains(t.asked, k.name) {
			continue
		}
		// Several readers may have read one key, in any order.
		advice := suggestion(k.name, slices.Compact(slices.Sorted(slices.Values(t.asked))))
		for _, h := range hints {
			if h[k.name] != "" {
				advice = h[k.name]
			}
		}
		t.add(k.at, t.join(k.name), "is not known here; "+advice)
	}
}

// getKind returns the value of a key. It reports another kind of value as a fault.
func (t *table) getKind(name string, kind unstable.Kind, how string) *node {
	n := t.get(name)
	if n == nil || n.kind == kind {
		return n
	}
	t.fault(name, "is %s; write %s", t.describe(n), how)
	return nil
}

// describe describes a value for people.
func (t *table) describe(n *node) string {
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

// text reads a text. It is "" if the key is absent.
func (t *table) text(name string) string {
	return t.textAs(name, `it in quotes`)
}

// textAs reads a text. A fault tells the user how to write it.
func (t *table) textAs(name, how string) string {
	n := t.getKind(name, unstable.String, how)
	if n == nil {
		return ""
	}
	if strings.TrimSpace(n.text) == "" {
		t.fault(name, "is empty; write %s, or remove the line", how)
		return ""
	}
	return n.text
}

// name reads the name of a section. It must be there and fit a label.
func (t *table) name(what string) string {
	s := t.text("name")
	if s == "" {
		if t.node.find("name") == nil {
			t.missing("name", `give the %s one: name = "..."`, what)
		}
		return ""
	}
	if err := checkName(s); err != nil {
		t.fault("name", "%v", err)
	}
	return s
}

// choice reads one of several words. The first is the default.
func (t *table) choice(name string, words ...string) string {
	s := t.text(name)
	if s == "" {
		return words[0]
	}
	if !slices.Contains(words, s) {
		t.fault(name, "%q is not known; write %s: %s", s, "one of "+list(words), suggestion(s, words))
		return words[0]
	}
	return s
}

// withUnit reads a text with a unit. It returns nil if the key is absent or wrong.
func withUnit[T any](t *table, name, how string, read func(string) (T, error)) *T {
	n := t.get(name)
	if n == nil {
		return nil
	}
	if n.kind == unstable.Integer || n.kind == unstable.Float {
		t.fault(name, "%s has no unit; write %s", n.text, how)
		return nil
	}
	s := t.textAs(name, how)
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
	return withUnit(t, name, `it as "74F" or "23.3C"`, Celsius)
}

// kelvins reads a difference of temperatures.
func (t *table) kelvins(name string, absent float64) float64 {
	if v := withUnit(t, name, `a difference as "0.5F" or "0.3C"`, kelvins); v != nil {
		return *v
	}
	return absent
}

// ratio reads a humidity.
func (t *table) ratio(name string) *float64 {
	return withUnit(t, name, `it as "45%"`, ratio)
}

// span reads a duration.
func (t *table) span(name string, absent time.Duration) time.Duration {
	if v := withUnit(t, name, `it as "10s", "5m" or "2d12h"`, span); v != nil {
		return *v
	}
	return absent
}

// between reads a duration within bounds.
func (t *table) between(name string, absent, min, max time.Duration) time.Duration {
	d := t.span(name, absent)
	if d < min || d > max {
		t.fault(name, "is %v; write %v to %v", d, min, max)
		return absent
	}
	return d
}

// number reads a number without a unit, within bounds. A fault tells the user how to write
// it.
func (t *table) number(name, how string, min, max float64) *float64 {
	n := t.get(name)
	if n == nil {
		return nil
	}
	if n.kind != unstable.Integer && n.kind != unstable.Float {
		t.fault(name, "is %s; write %s", t.describe(n), how)
		return nil
	}
	v, err := strconv.ParseFloat(strings.ReplaceAll(n.text, "_", ""), 64)
	if err != nil || math.IsNaN(v) || v < min || v > max {
		t.fault(name, "%s is outside %g..%g; write %s", n.text, min, max, how)
		return nil
	}
	return &v
}

// integer reads a whole number without a unit, within bounds.
func (t *table) integer(name, how string, min, max int64) *int {
	n := t.getKind(name, unstable.Integer, how)
	if n == nil {
		return nil
	}
	v, err := strconv.ParseInt(n.text, 0, 64)
	if err != nil || v < min || v > max {
		t.fault(name, "%s is outside %d..%d; write %s", n.text, min, max, how)
		return nil
	}
	i := int(v)
	return &i
}

// boolean reads true or false. The default is false.
func (t *table) boolean(name string) bool {
	n := t.getKind(name, unstable.Bool, "true or false, without quotes")
	return n != nil && n.text == "true"
}

// texts reads a list of different texts.
func (t *table) texts(name string) []string {
	how := fmt.Sprintf(`a list: %s = ["...", "..."]`, name)
	n := t.getKind(name, unstable.Array, how)
	if n == nil {
		return nil
	}
	var all []string
	for _, item := range n.items {
		switch {
		case item.kind != unstable.String:
			t.add(item.at, t.join(name), fmt.Sprintf("has %s in it; write %s", t.describe(item), how))
		case strings.TrimSpace(item.text) == "":
			t.add(item.at, t.join(name), "has an empty text in it; remove it")
		case slices.Contains(all, item.text):
			t.add(item.at, t.join(name), fmt.Sprintf("has %q twice; remove one", item.text))
		default:
			all = append(all, item.text)
		}
	}
	return all
}

// section returns the table of a key, or nil.
func (t *table) section(name, how string) *table {
	n := t.getKind(name, unstable.InlineTable, how)
	if n == nil {
		return nil
	}
	return t.table(n, t.join(name))
}

// optionalSection returns the table of a key of the file; it is empty if the key is absent.
func (t *table) optionalSection(name string) *table {
	if s := t.section(name, "a section: ["+name+"]"); s != nil {
		return s
	}
	return t.table(&node{kind: unstable.InlineTable}, name)
}

// sections returns the tables of a key that may come several times.
func (t *table) sections(name string) []*table {
	how := fmt.Sprintf("each as [[%s]]", t.join(name))
	if t.path != "" {
		how = fmt.Sprintf("a list: %s = [{ ... }, { ... }]", name)
	}
	n := t.getKind(name, unstable.Array, how)
	if n == nil {
		return nil
	}
	var all []*table
	for _, item := range n.items {
		if item.kind != unstable.InlineTable {
			t.add(item.at, t.join(name), fmt.Sprintf("has %s in it; write %s", t.describe(item), how))
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
		// Do not quote it: it may hold a secret, and the fault goes to the log.
		t.fault(name, "is not a web address; write it whole, as https://host/path")
		return ""
	}
	return s
}

// loopback reports whether a host is this machine alone.
func loopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}
