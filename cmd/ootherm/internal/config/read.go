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

// file is the TOML file while it is read, with the faults found so far.
type file struct {
	drivers []Variant
	name    string
	replay  bool // the readings come from a recording: what only polling needs is no fault
	data    []byte
	faults  Faults
	broken  bool  // a syntax error hides the rest of the file: a missing key may be there
	quotes  []int // offsets of added quotes, which are not in the user's file
}

// node is a value and its place in the file. A table's keys are in the file's order.
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

// find returns the entry of a key, or nil.
func (n *node) find(name string) *key {
	for i := range n.keys {
		if n.keys[i].name == name {
			return &n.keys[i]
		}
	}
	return nil
}

// maxFileBytes limits the file. Hundreds of probes need less (our choice).
const maxFileBytes = 128 << 10

// read makes a tree of the file. A syntax error stops it. A value that only lacks its
// quotes does not: read reports it and adds the quotes, so that later faults are reported
// too.
func (f *file) read(data []byte) *node {
	f.data = data
	root := &node{kind: unstable.InlineTable}
	if len(data) > maxFileBytes {
		f.broken = true
		f.add(0, "", fmt.Sprintf("the file has %d bytes; is it a station's configuration?", len(data)))
		return root
	}
	bad, at := f.addQuotes()
	before := len(f.faults)
	f.build(root)
	if bad != nil {
		f.broken = true
		f.add(at, "", fmt.Sprintf("not TOML: %s; nothing after this line was looked at", bad.Message))
		return root
	}
	// build reports a key that is written twice in better words than the library.
	var wrong *toml.DecodeError
	if err := toml.Unmarshal(f.data, &map[string]any{}); errors.As(err, &wrong) && len(f.faults) == before {
		f.add(offset(f.data, wrong), "", "not TOML: "+strings.TrimPrefix(wrong.Error(), "toml: "))
	} else if err != nil && len(f.faults) == before {
		f.add(0, "", "not TOML: "+err.Error())
	}
	return root
}

// syntaxError returns the first syntax error in the data and its offset, or nil.
func syntaxError(data []byte) (bad *unstable.ParserError, at int) {
	var p unstable.Parser
	p.Reset(data)
	for p.NextExpression() {
	}
	if !errors.As(p.Error(), &bad) {
		return nil, 0
	}
	return bad, int(p.Range(bad.Highlight).Offset)
}

// addQuotes checks the syntax. It adds and reports missing quotes, and returns the syntax
// error that remains.
func (f *file) addQuotes() (bad *unstable.ParserError, at int) {
	bad, at = syntaxError(f.data)
	for bad != nil {
		from, to := f.bareValue(at)
		if from == to || at < from || at > to {
			break
		}
		word := string(f.data[from:to])
		fixed := slices.Concat(f.data[:from], []byte(`"`+word+`"`), f.data[to:])
		next, nextAt := syntaxError(fixed)
		if next != nil && nextAt <= to+1 {
			break // quotes do not solve it
		}
		f.add(from, f.qualified(from, f.keyBefore(from)), fmt.Sprintf("%s is not in quotes; write \"%[1]s\"", word))
		f.quotes = append(f.quotes, from, to+1)
		f.data, bad, at = fixed, next, nextAt
	}
	return bad, at
}

// bareValue finds the value around an offset that has neither quotes nor brackets. It
// reaches from its '=' to a comma, a bracket, a comment or the end of the line.
func (f *file) bareValue(at int) (from, to int) {
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

// keyBefore returns the bare key of the value at an offset.
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

// qualified returns a key with the section around an offset.
func (f *file) qualified(at int, key string) string {
	all := section.FindAllSubmatch(f.data[:at], -1)
	if len(all) == 0 {
		return key
	}
	return string(all[len(all)-1][1]) + "." + key
}

// build adds every expression to the tree, up to the first syntax error.
func (f *file) build(root *node) {
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

// header finds or makes the table of a line in brackets.
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
				f.add(at, string(k.Data), fmt.Sprintf("is already a single section on line %d; each of several needs two brackets, [[%[2]s]]", f.line(here.at), string(k.Data)))
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

// set adds a key and its value to a table. A dotted key opens tables below it.
func (f *file) set(here *node, e *unstable.Node) {
	for it := e.Key(); it.Next(); {
		k := it.Node()
		at, name := int(k.Raw.Offset), string(k.Data)
		next := here.find(name)
		if it.IsLast() {
			if next != nil {
				f.add(at, f.qualified(at, name), fmt.Sprintf("is on line %d already; keep one of the two", f.line(next.at)))
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
			f.add(at, f.qualified(at, name), fmt.Sprintf("is a plain value on line %d; it can have nothing below it", f.line(here.at)))
			return
		}
	}
}

// value copies a value, because the parser reuses its memory.
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

// add adds a fault at an offset.
func (f *file) add(at int, key, why string) {
	line, column := f.position(at)
	f.faults = append(f.faults, Fault{File: f.name, Line: line, Column: column, Key: key, Why: why})
}

// line returns the line of an offset, from 1.
func (f *file) line(at int) int {
	line, _ := f.position(at)
	return line
}

// position returns the line and the character of an offset, both from 1.
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

// offset returns the byte offset of an error of the TOML library. The library counts
// columns in bytes.
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
