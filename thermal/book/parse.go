package book

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"
)

// Parse reads one entry. Its error is a [Faults] with everything wrong.
func Parse(b []byte) (Entry, error) { return NewParser().Parse(b) }

// Parser reads entries one after another; its tables are made once. It may be
// used from any goroutine.
type Parser struct {
	fields []field
	byName map[string]int
}

// NewParser makes a parser.
func NewParser() *Parser {
	p := &Parser{fields: fields(), byName: map[string]int{}}
	for i, f := range p.fields {
		p.byName[f.name] = i
	}
	return p
}

// Parse does as the function of that name.
func (p *Parser) Parse(b []byte) (Entry, error) {
	e, faults := p.parse(b)
	if err := faults.err(); err != nil {
		return Entry{}, err
	}
	return e, nil
}

// UnmarshalJSON is [Parse].
func (e *Entry) UnmarshalJSON(b []byte) error {
	got, err := Parse(b)
	if err != nil {
		return err
	}
	*e = got
	return nil
}

// Check says everything wrong with an entry by itself, as [Parse] does.
func (e Entry) Check() error { return NewParser().check(&e).err() }

// ReadAll reads entries from JSON lines; blank lines are passed over. If any
// line is bad there are none, and the error is a [Faults] of every bad line.
func ReadAll(r io.Reader) ([]Entry, error) {
	entries, _, _, faults, err := readLines(r)
	if err == nil {
		err = faults.err()
	}
	if err != nil {
		return nil, err
	}
	return entries, nil
}

// longestLine is more than the longest text takes when every byte is escaped.
const longestLine = 1 << 20

// readLines gives the good entries with the line of each, and what is known of
// the bad ones.
func readLines(r io.Reader) (good []Entry, at []int, bad []Entry, faults Faults, err error) {
	p := NewParser()
	s := bufio.NewScanner(r)
	s.Buffer(make([]byte, 0, 64*1024), longestLine)
	n := 0
	for s.Scan() {
		n++
		b := s.Bytes()
		if n == 1 {
			b = bytes.TrimPrefix(b, []byte("\ufeff"))
		}
		b = bytes.TrimSpace(b)
		if len(b) == 0 {
			continue
		}
		e, f := p.parse(b)
		for i := range f {
			f[i].Line = n
		}
		if len(f) > 0 {
			faults, bad = append(faults, f...), append(bad, e)
			continue
		}
		good, at = append(good, e), append(at, n)
	}
	if errors.Is(s.Err(), bufio.ErrTooLong) {
		faults = append(faults, Fault{Line: n + 1, Words: "is longer than any entry: what follows was not read"})
	} else if s.Err() != nil {
		return nil, nil, nil, nil, fmt.Errorf("book: read line %d: %w", n+1, s.Err())
	}
	return good, at, bad, faults, nil
}

// parse gives, beside the faults, what could be made out of a bad entry: what
// depends on it is then not held to be bad as well.
func (p *Parser) parse(b []byte) (e Entry, faults Faults) {
	fault := func(field, words string) { faults = append(faults, Fault{Field: field, Words: words}) }
	if !utf8.Valid(b) {
		return e, Faults{{Words: "is not UTF-8 text: save the file as UTF-8"}}
	}
	d := json.NewDecoder(bytes.NewReader(b))
	if t, err := d.Token(); err != nil || t != json.Delim('{') {
		return e, Faults{{Words: "is no JSON object: write one entry a line, like {\"key\": ...}"}}
	}
	seen := map[string]bool{}
	for d.More() {
		t, err := d.Token()
		name, ok := t.(string)
		var raw json.RawMessage
		if err == nil && ok {
			err = d.Decode(&raw)
		}
		if err != nil || !ok {
			fault("", "is broken JSON: "+jsonWords(err))
			break
		}
		i, known := p.byName[name]
		switch {
		case !known:
			fault(name, "is no field of an entry: take it out or check its spelling")
		case seen[name]:
			fault(name, "is there twice: keep one")
		default:
			if err := p.fields[i].read(&e, raw); err != nil {
				fault(name, err.Error())
			}
		}
		seen[name] = true
	}
	if len(faults) == 0 {
		_, end := d.Token()
		_, after := d.Token()
		if end != nil {
			fault("", "is broken JSON: "+jsonWords(end))
		} else if !errors.Is(after, io.EOF) {
			fault("", "is broken JSON: one object a line, and nothing after it")
		}
	}
	bad := map[string]bool{}
	for i := range faults {
		bad[faults[i].Field] = true
	}
	if !bad[""] {
		for _, f := range p.check(&e) {
			if !bad[f.Field] {
				faults = append(faults, f)
			}
		}
	}
	for i := range faults {
		faults[i].Key = e.Key
	}
	return e, faults
}

func jsonWords(err error) string {
	if err == nil || errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return "it ends too early"
	}
	return err.Error()
}

// check holds an entry to its shape and its values.
func (p *Parser) check(e *Entry) (faults Faults) {
	fault := func(field, words string) {
		faults = append(faults, Fault{Key: e.Key, Field: field, Words: words})
	}
	if e.Key == "" {
		fault("key", "is missing: give each entry a key of its own")
	}
	if e.At.IsZero() {
		fault("at", "is missing: say when it happened")
	}
	sh, ok := shapeOf(e)
	switch {
	case e.Kind == "":
		fault("entry", "is missing: say what the entry is, like clutch or placed")
	case !ok:
		fault("entry", fmt.Sprintf("%q is no kind of entry: check its spelling", e.Kind))
	}
	for _, f := range p.fields {
		there := f.there(e)
		switch f.name {
		case "key", "at", "entry", "seq", "recorded":
		default:
			must, may := has(sh.must, f.name), has(sh.may, f.name)
			if ok && there && !must && !may {
				fault(f.name, fmt.Sprintf("does not belong in a %s entry: take it out", e.Kind))
				continue
			}
			if must && !there {
				fault(f.name, fmt.Sprintf("is missing: a %s entry needs it", e.Kind))
			}
		}
		if !there {
			continue
		}
		if err := f.check(e); err != nil {
			fault(f.name, err.Error())
		}
	}
	if len(faults) > 0 {
		return faults
	}
	switch {
	case e.Kind == KindClutch && e.LaidAfter.After(e.LaidBy):
		fault("laid_after", "is later than laid_by: exchange them")
	case e.Kind == KindClutch && e.LaidAfter.After(e.At):
		fault("laid_after", "is later than the day the eggs were found: check at and laid_after")
	case e.Kind == KindClutch && checkName(EggID(e.Clutch, e.Eggs)) != nil:
		fault("clutch", "is too long for its eggs to be named after it: shorten it")
	case e.Kind == KindHatchling && e.What == Weighed && e.MassG == nil:
		fault("mass_g", "is missing: say what it weighed")
	case e.Kind == KindVoid && e.Void == e.Key:
		fault("void", "names its own key: name the entry to undo")
	}
	return faults
}

// has reports whether a list of words separated by spaces has a word.
func has(words, w string) bool {
	for words != "" {
		var one string
		one, words, _ = strings.Cut(words, " ")
		if one == w {
			return true
		}
	}
	return false
}
