package book

import (
	"encoding/json"
	"errors"
	"reflect"
	"slices"
	"strings"
	"time"
)

// field is one field of an entry.
type field struct {
	name  string // in JSON
	index int    // in [Entry]
}

// entryFields are the fields of an entry in the order of a stored line.
var entryFields = fieldsOf(reflect.TypeFor[Entry]())

func fieldsOf(entry reflect.Type) []field {
	fields := make([]field, entry.NumField())
	for i := range fields {
		name, _, _ := strings.Cut(entry.Field(i).Tag.Get("json"), ",")
		fields[i] = field{name, i}
	}
	return fields
}

func fieldNamed(name string) (field, bool) {
	i := slices.IndexFunc(entryFields, func(f field) bool { return f.name == name })
	if i < 0 {
		return field{}, false
	}
	return entryFields[i], true
}

// of is a pointer to the field of an entry: to one of the types that the functions
// below list.
func (f field) of(e *Entry) any { return reflect.ValueOf(e).Elem().Field(f.index).Addr().Interface() }

// present reports whether an entry has the field.
func (f field) present(e *Entry) bool {
	switch v := f.of(e).(type) {
	case *string:
		return *v != ""
	case *Kind:
		return *v != ""
	case *Found:
		return *v != ""
	case *Names:
		return len(*v) > 0
	case *[]Point:
		return len(*v) > 0
	case *int:
		return *v != 0
	case *uint64:
		return *v != 0
	case **float64:
		return *v != nil
	case *time.Time:
		return !v.IsZero()
	}
	return false
}

// read sets the field from JSON.
func (f field) read(e *Entry, raw []byte) error {
	switch v := f.of(e).(type) {
	case *string:
		return readText(raw, v)
	case *Kind:
		return readText(raw, (*string)(v))
	case *Found:
		return readFound(raw, v)
	case *Names:
		return readNames(raw, v)
	case *[]Point:
		return readPoints(raw, v)
	case *int:
		return readCount(raw, v)
	case *uint64:
		return readNumber(raw, v, "is no whole number: leave it out, the ledger gives it")
	case **float64:
		*v = new(float64)
		return readNumber(raw, *v, "is no number: write it without quotes or unit")
	case *time.Time:
		return readTime(raw, v)
	}
	return errors.New("has a type that cannot be read")
}

func readText(raw []byte, s *string) error {
	if raw[0] != '"' || json.Unmarshal(raw, s) != nil {
		return errors.New("is no text: write it in quotes")
	}
	if *s == "" {
		return errors.New("is empty: leave it out or fill it in")
	}
	return nil
}

// readNumber reads any kind of number. wrong is the error of another value.
func readNumber[T any](raw []byte, n *T, wrong string) error {
	if raw[0] == 'n' || json.Unmarshal(raw, n) != nil {
		return errors.New(wrong)
	}
	return nil
}

func readCount(raw []byte, v *int) error {
	err := readNumber(raw, v, "is no whole number: write it without quotes")
	if err == nil && *v == 0 {
		err = errors.New("is 0: a clutch has at least one egg")
	}
	return err
}

func readTime(raw []byte, t *time.Time) error {
	if raw[0] != '"' || json.Unmarshal(raw, t) != nil {
		*t = time.Time{}
		return errors.New(`is no time: write it like "2026-04-02T19:00:00Z" (RFC 3339, with its zone)`)
	}
	*t = t.UTC()
	return checkTime(*t)
}

func readNames(raw []byte, n *Names) error {
	if raw[0] == '"' {
		var s string
		err := readText(raw, &s)
		if err == nil {
			*n = Names{s}
		}
		return err
	}
	var all []string
	if raw[0] != '[' || json.Unmarshal(raw, &all) != nil {
		return errors.New("is neither a name nor a list of names")
	}
	if len(all) == 0 {
		return errors.New("is an empty list: leave dam out when she is not known")
	}
	for _, s := range all {
		if s == "" {
			return errors.New("has an empty name in its list: take it out")
		}
	}
	*n = all
	return nil
}

func readFound(raw []byte, f *Found) error {
	var s string
	var n uint32
	switch {
	case string(raw) == "true" || string(raw) == "false":
	case len(raw) > 0 && raw[0] == '"' && readText(raw, &s) == nil:
		if err := checkText(s); err != nil {
			return err
		}
		b, err := json.Marshal(s)
		*f = Found(b)
		return err
	case len(raw) > 0 && raw[0] != 'n' && json.Unmarshal(raw, &n) == nil:
	default:
		return errors.New("is no text, true, false or number of eggs")
	}
	*f = Found(raw)
	return nil
}

func readPoints(raw []byte, p *[]Point) error {
	d := json.NewDecoder(strings.NewReader(string(raw)))
	d.DisallowUnknownFields()
	var all []Point
	if raw[0] != '[' || d.Decode(&all) != nil {
		return errors.New(`is no list of points: write it like [{"reference_c":0,"read_c":0.2}]`)
	}
	if len(all) == 0 {
		return errors.New("is an empty list: give at least one point")
	}
	*p = all
	return nil
}
