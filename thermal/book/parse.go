package book

import (
	"bufio"
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"unicode/utf8"
)

// Parse reads one entry. Its error is a [Faults] with everything wrong.
func Parse(b []byte) (Entry, error) {
	e, faults := parse(b)
	if err := faults.err(); err != nil {
		return Entry{}, err
	}
	return e, nil
}

// UnmarshalJSON is [Parse].
func (e *Entry) UnmarshalJSON(b []byte) error {
	parsed, err := Parse(b)
	if err == nil {
		*e = parsed
	}
	return err
}

// ReadAll reads entries from JSON lines; blank lines are passed over. If any line
// is bad there are none, and the error is a [Faults] of every bad line.
func ReadAll(r io.Reader) ([]Entry, error) {
	lines, err := ReadDraft(r)
	if err = cmp.Or(err, lines.faults.err()); err != nil {
		lines = Draft{}
	}
	return lines.Entries(), err
}

// maxLineBytes is more than the longest text takes when every byte is escaped.
const maxLineBytes = 1 << 20

// ReadDraft reads entries from JSON lines; blank lines are passed over. A line that
// cannot be read is a fault of the draft. The error is the reader's own.
func ReadDraft(r io.Reader) (all Draft, err error) {
	s := bufio.NewScanner(r)
	s.Buffer(make([]byte, 0, 64*1024), maxLineBytes)
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
		e, f := parse(b)
		if len(f) == 0 {
			all.good = append(all.good, &item{Entry: e, line: n})
			continue
		}
		for i := range f {
			f[i].Line = n
		}
		all.faults, all.bad = append(all.faults, f...), append(all.bad, e)
	}
	if errors.Is(s.Err(), bufio.ErrTooLong) {
		all.faults = append(all.faults, Fault{Line: n + 1, Words: "is longer than any entry: what follows was not read"})
	} else if s.Err() != nil {
		return Draft{}, fmt.Errorf("read line %d: %w", n+1, s.Err())
	}
	return all, nil
}

// parse returns, beside the faults, as much of a bad entry as could be read: an
// entry that depends on it is then not a fault as well.
func parse(b []byte) (Entry, Faults) {
	e, faults := decode(b)
	bad := map[string]bool{}
	for i := range faults {
		bad[faults[i].Field] = true
	}
	if !bad[""] {
		for _, f := range check(&e) {
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

// decode reads the fields of one JSON object. A fault without a field is of the
// whole line.
func decode(b []byte) (e Entry, faults Faults) {
	fault := func(field, words string) { faults = append(faults, Fault{Field: field, Words: words}) }
	if !utf8.Valid(b) {
		fault("", "is not UTF-8 text: save the file as UTF-8")
		return e, faults
	}
	d := json.NewDecoder(bytes.NewReader(b))
	if t, err := d.Token(); err != nil || t != json.Delim('{') {
		fault("", "is no JSON object: write one entry a line, like {\"key\": ...}")
		return e, faults
	}
	seen := map[string]bool{}
	for d.More() {
		name, raw, err := nextField(d)
		if err != nil {
			fault("", "is broken JSON: "+err.Error())
			return e, faults
		}
		f, known := fieldNamed(name)
		switch {
		case !known:
			fault(name, "is no field of an entry: take it out or check its spelling")
		case seen[name]:
			fault(name, "is there twice: keep one")
		default:
			if err := f.read(&e, raw); err != nil {
				fault(name, err.Error())
			}
		}
		seen[name] = true
	}
	if len(faults) == 0 {
		_, end := d.Token()
		_, after := d.Token()
		if end != nil {
			fault("", "is broken JSON: "+jsonError(end).Error())
		} else if !errors.Is(after, io.EOF) {
			fault("", "is broken JSON: one object a line, and nothing after it")
		}
	}
	return e, faults
}

// nextField reads the name and the value of the next field of an object.
func nextField(d *json.Decoder) (name string, raw json.RawMessage, err error) {
	t, err := d.Token()
	name, ok := t.(string)
	if err == nil && ok {
		err = d.Decode(&raw)
	}
	if err != nil || !ok {
		return "", nil, jsonError(err)
	}
	return name, raw, nil
}

// jsonError is an error of the JSON decoder, where an early end is said plainly.
func jsonError(err error) error {
	if err == nil || errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return errors.New("it ends too early")
	}
	return err
}
