package config

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// file is one reading of the TOML file and what was found wrong with it.
type file struct {
	drivers []Variant
	name    string
	replay  bool // the readings come from elsewhere: faults of polling are none
	data    []byte
	faults  Faults
	broken  bool  // the syntax is, from some line on: what is missing may stand there
	quotes  []int // offsets of those put in, which are no columns of the reader's file
}

// node is a value and where it stands. A table's keys are in the file's order.
type node struct {
	kind  unstable.Kind // String, Integer, Float, Bool, Array, InlineTable (any table), or a date
	at    int           // offset in the file
	text  string
	items []*node // of an Array
	keys  []key   // of a table
}

// key is an entry of a table.
type key struct {
	name string
	at   int
	node *node
}

func (n *node) find(name string) *key {
	for i := range n.keys {
		if n.keys[i].name == name {
			return &n.keys[i]
		}
	}
	return nil
}

// largest is more than hundreds of probes take; what is larger is no station's file.
const largest = 128 << 10

// read makes a tree of the file. A syntax error stops it, save for a value that
// only lacks its quotes: that is told and read as if it had them, so that what
// comes after is told too.
func (f *file) read(data []byte) *node {
	f.data = data
	root := &node{kind: unstable.InlineTable}
	if len(data) > largest {
		f.broken = true
		f.add(0, "", fmt.Sprintf("the file has %d bytes; is it a station's configuration?", len(data)))
		return root
	}
	bad, at := f.quote()
	before := len(f.faults)
	f.grow(root)
	if bad != nil {
		f.broken = true
		f.add(at, "", fmt.Sprintf("not TOML: %s; nothing after this line was looked at", bad.Message))
		return root
	}
	// What is written twice grow has told in better words.
	var wrong *toml.DecodeError
	if err := toml.Unmarshal(f.data, &map[string]any{}); errors.As(err, &wrong) && len(f.faults) == before {
		f.add(offset(f.data, wrong), "", "not TOML: "+strings.TrimPrefix(wrong.Error(), "toml: "))
	} else if err != nil && len(f.faults) == before {
		f.add(0, "", "not TOML: "+err.Error())
	}
	return root
}

// syntax is the first thing in the data that is no TOML, and its offset.
func syntax(data []byte) (bad *unstable.ParserError, at int) {
	var p unstable.Parser
	p.Reset(data)
	for p.NextExpression() {
	}
	if !errors.As(p.Error(), &bad) {
		return nil, 0
	}
	return bad, int(p.Range(bad.Highlight).Offset)
}

// quote checks the syntax, puts quotes round values that only lack them and
// tells so, and returns the error that remains.
func (f *file) quote() (bad *unstable.ParserError, at int) {
	bad, at = syntax(f.data)
	for bad != nil {
		from, to := f.bare(at)
		if from == to || at < from || at > to {
			break
		}
		word := string(f.data[from:to])
		fixed := slices.Concat(f.data[:from], []byte(`"`+word+`"`), f.data[to:])
		next, then := syntax(fixed)
		if next != nil && then <= to+1 {
			break // it is something else
		}
		f.add(from, f.under(from, f.keyBefore(from)), fmt.Sprintf("%s is not in quotes; write \"%[1]s\"", word))
		f.quotes = append(f.quotes, from, to+1)
		f.data, bad, at = fixed, next, then
	}
	return bad, at
}

// bare finds the value round an offset that is neither quoted nor bracketed:
// from just after its '=' to a comma, a bracket, a comment or the line's end.
func (f *file) bare(at int) (from, to int) {
	start := bytes.LastIndexByte(f.data[:at], '\n') + 1
	line := f.data[start:]
	if end := bytes.IndexByte(line, '\n'); end >= 0 {
		line = line[:end]
	}
	eq := bytes.LastIndexByte(line[:min(at-start+1, len(line))], '=')
	if eq < 0 {
		return 0, 0
	}
	value := line[eq+1:]
	if end := bytes.IndexAny(value, ",}]#"); end >= 0 {
		value = value[:end]
	}
	word := bytes.TrimSpace(value)
	if len(word) == 0 || bytes.ContainsAny(word, "\"'[{=\\") || !utf8.Valid(word) || bytes.ContainsFunc(word, func(r rune) bool { return r < ' ' || r == 0x7f }) {
		return 0, 0
	}
	from = start + eq + 1 + bytes.Index(value, word)
	return from, from + len(word)
}

// keyBefore is the bare key whose value stands at an offset.
func (f *file) keyBefore(at int) string {
	start := bytes.LastIndexByte(f.data[:at], '\n') + 1
	words := strings.FieldsFunc(string(f.data[start:at]), func(r rune) bool {
		return strings.ContainsRune(" \t={,", r)
	})
	if len(words) == 0 {
		return ""
	}
	return words[len(words)-1]
}

var section = regexp.MustCompile(`(?m)^\s*\[\[?\s*([^\]\n]*?)\s*\]`)

// under is a key with the section that an offset stands in.
func (f *file) under(at int, key string) string {
	all := section.FindAllSubmatch(f.data[:at], -1)
	if len(all) == 0 {
		return key
	}
	return string(all[len(all)-1][1]) + "." + key
}

// grow adds every expression to the tree, up to the first that is broken.
func (f *file) grow(root *node) {
	var p unstable.Parser
	p.Reset(f.data)
	here, headers := root, map[*node]int{}
	for p.NextExpression() {
		switch e := p.Expression(); e.Kind {
		case unstable.Table, unstable.ArrayTable:
			here = f.header(root, e, headers)
		case unstable.KeyValue:
			f.set(here, e)
		}
	}
}

// header finds or makes the table that a line in brackets opens.
func (f *file) header(root *node, e *unstable.Node, headers map[*node]int) *node {
	at, here := 0, root
	for it := e.Key(); it.Next(); {
		k := it.Node()
		at = int(k.Raw.Offset)
		next := here.find(string(k.Data))
		if next == nil {
			kind := unstable.InlineTable
			if it.IsLast() && e.Kind == unstable.ArrayTable {
				kind = unstable.Array
			}
			here.keys = append(here.keys, key{string(k.Data), at, &node{kind: kind, at: at}})
			next = &here.keys[len(here.keys)-1]
		}
		here = next.node
		if it.IsLast() && e.Kind == unstable.ArrayTable {
			item := &node{kind: unstable.InlineTable, at: at}
			if here.kind != unstable.Array {
				f.add(at, string(k.Data), fmt.Sprintf("is already a single section on line %d; every one of several has two brackets, [[%[2]s]]", f.line(here.at), string(k.Data)))
				return item
			}
			here.items = append(here.items, item)
			here = item
		} else if here.kind == unstable.Array && len(here.items) > 0 && !it.IsLast() {
			here = here.items[len(here.items)-1]
		}
	}
	if e.Kind == unstable.Table {
		if here.kind != unstable.InlineTable {
			f.add(at, "", fmt.Sprintf("is written with two brackets on line %d; write it so here too", f.line(here.at)))
			return &node{kind: unstable.InlineTable, at: at}
		}
		if first, ok := headers[here]; ok {
			f.add(at, "", fmt.Sprintf("this section began on line %d already; join the two", f.line(first)))
		}
		headers[here] = at
	}
	return here
}

// set adds a key and its value to a table; a dotted key opens tables below it.
func (f *file) set(here *node, e *unstable.Node) {
	for it := e.Key(); it.Next(); {
		k := it.Node()
		at, name := int(k.Raw.Offset), string(k.Data)
		next := here.find(name)
		if it.IsLast() {
			if next != nil {
				f.add(at, f.under(at, name), fmt.Sprintf("is on line %d already; keep one of the two", f.line(next.at)))
				return
			}
			here.keys = append(here.keys, key{name, at, f.value(e.Value(), at)})
			return
		}
		if next == nil {
			here.keys = append(here.keys, key{name, at, &node{kind: unstable.InlineTable, at: at}})
			next = &here.keys[len(here.keys)-1]
		}
		if here = next.node; here.kind != unstable.InlineTable {
			f.add(at, f.under(at, name), fmt.Sprintf("is a plain value on line %d; it can have nothing below it", f.line(here.at)))
			return
		}
	}
}

// value copies a value out of the parser, which reuses its own.
func (f *file) value(v *unstable.Node, at int) *node {
	if v.Raw.Length > 0 {
		at = int(v.Raw.Offset)
	}
	n := &node{kind: v.Kind, at: at, text: string(v.Data)}
	switch v.Kind {
	case unstable.Array:
		for it := v.Children(); it.Next(); {
			if it.Node().Kind != unstable.Comment {
				n.items = append(n.items, f.value(it.Node(), at))
			}
		}
	case unstable.InlineTable:
		for it := v.Children(); it.Next(); {
			if it.Node().Kind == unstable.KeyValue {
				f.set(n, it.Node())
			}
		}
	}
	return n
}

// add tells a fault at an offset.
func (f *file) add(at int, key, why string) {
	line, column := f.position(at)
	f.faults = append(f.faults, Fault{File: f.name, Line: line, Column: column, Key: key, Why: why})
}

func (f *file) line(at int) int {
	line, _ := f.position(at)
	return line
}

// position is the line and the character of an offset, both from 1.
func (f *file) position(at int) (line, column int) {
	before := f.data[:min(max(at, 0), len(f.data))]
	start := bytes.LastIndexByte(before, '\n') + 1
	line, column = 1+bytes.Count(before, []byte("\n")), 1+utf8.RuneCount(before[start:])
	for _, q := range f.quotes {
		if q >= start && q < len(before) {
			column--
		}
	}
	return line, column
}

// offset is where the TOML library's line and column are; it counts bytes.
func offset(data []byte, bad *toml.DecodeError) int {
	line, column := bad.Position()
	at := 0
	for ; line > 1; line-- {
		end := bytes.IndexByte(data[at:], '\n')
		if end < 0 {
			return len(data)
		}
		at += end + 1
	}
	return min(at+max(column-1, 0), len(data))
}
