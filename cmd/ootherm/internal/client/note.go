package client

import (
	"bytes"
	"cmp"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"maps"
	"net/url"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/forms"
	"example.com/ootherm/cmd/ootherm/internal/shellword"
	"example.com/ootherm/cmd/ootherm/internal/spelling"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/bookfile"
)

// Flag is the name of a form's field on the command line.
func Flag(f forms.Field) string {
	switch f.Name {
	case "newbox":
		return "box"
	case "whose":
		return "dam"
	case "called":
		return "name"
	case "laying":
		return "clutch"
	}
	return strings.ReplaceAll(f.Name, "_", "-")
}

// FlagHelp tells what a field's flag takes, and its usual answer.
func FlagHelp(f forms.Field) string {
	text := strings.ToLower(f.Label[:1]) + f.Label[1:]
	switch f.Sort {
	case forms.Many:
		text += "; once for each"
	case forms.Difference:
		text += ", like 0.5F or -0.3C"
	}
	if values := forms.Values((forms.Desk{}).Options(f)); len(values) > 0 && f.Other == "" {
		text += ": " + strings.Join(values, ", ")
	}
	if f.Usual != "" {
		text += "; default: " + f.Usual
	}
	return text
}

// Filled is a form that was filled in by flags.
type Filled struct {
	Form    forms.Form
	Answers url.Values // by the name of a field; a field without one has its usual answer
	At      string     // as a person writes a time; empty: now
	Key     string     // empty: a random one
	Sure    bool       // note probable mistakes too
}

// NoteForm notes a form that was filled in, and gives its entries. An answer that is
// missing or makes no sense is an error of usage; what the book refuses is told by the
// form's flags.
func (c *Client) NoteForm(ctx context.Context, x Filled) ([]book.Entry, error) {
	at := thisSecond()
	if x.At != "" {
		var err error
		if at, err = forms.Time(x.At, cmp.Or(c.reader.Place, time.UTC)); err != nil {
			return nil, usererr.Usage(err)
		}
	}
	desk, err := c.Desk(ctx, at)
	if err != nil {
		return nil, err
	}
	sent := desk.Opened(x.Form)
	for name, answers := range x.Answers {
		sent[name] = answers
	}
	if err := missing(x.Form, desk, sent); err != nil {
		return nil, err
	}
	if err := unknown(x.Form, desk, sent); err != nil {
		return nil, err
	}
	entries, err := x.Form.Entries(cmp.Or(x.Key, randomKey("c-")), at, c.reader.Units, sent)
	if err != nil {
		return nil, usererr.Usage(err)
	}
	if asked := desk.Doubts(entries); len(asked) > 0 && !x.Sure {
		return nil, usererr.New(strings.Join(append(asked, "Nothing was noted. If it is right, say so with --sure."), "\n"))
	}
	return entries, c.noteEntries(ctx, x.Form, entries)
}

// thisSecond gives the current time in whole seconds.
func thisSecond() time.Time { return time.Now().UTC().Truncate(time.Second) }

func randomKey(prefix string) string { return prefix + strings.ToLower(rand.Text()[:16]) }

// missing tells which fields must be answered and are not, each with its options.
func missing(f forms.Form, d forms.Desk, sent url.Values) error {
	var all []string
	for _, x := range f.Fields {
		if !x.Must || sent.Get(x.Name) != "" {
			continue
		}
		text := "--" + Flag(x)
		if x.Sort == forms.Pick {
			if values := forms.Values(d.Options(x)); len(values) > 0 {
				text += " (" + strings.Join(values, ", ") + ")"
			} else {
				text += " (" + strings.ToLower(x.None[:1]) + strings.TrimSuffix(x.None[1:], ".") + ")"
			}
		}
		all = append(all, text)
	}
	if len(all) == 0 {
		return nil
	}
	return usererr.Usage(errors.New("book note " + f.Kind + " needs " + strings.Join(all, " and ")))
}

// unknown tells which dam or box of found eggs is not in the book. Of other forms the book
// tells.
func unknown(f forms.Form, d forms.Desk, sent url.Values) error {
	if f.Kind != forms.Found || d.Book == nil {
		return nil
	}
	var all []string
	for _, name := range sent["dam"] {
		if _, ok := d.Book.Dam(name); !ok && name != "" {
			if like := nearestDam(name, d.Book.Dams()); like != "" {
				all = append(all, fmt.Sprintf("%s is not in the book. Did you mean %s?", name, like))
				continue
			}
			all = append(all, fmt.Sprintf("%s is not in the book; note her first: ootherm book note dam --name %s", name, shellword.Quote(name)))
		}
	}
	if box := sent.Get("box"); box != "" {
		if _, ok := d.Book.Box(box); !ok {
			all = append(all, fmt.Sprintf("box %s is not in the book; set it up first: ootherm book note box --box %s", box, shellword.Quote(box)))
		}
	}
	if len(all) == 0 {
		return nil
	}
	return usererr.Usage(errors.New(strings.Join(all, "\n")))
}

// nearestDam gives the dam whose name is most like a name; empty: none is close.
func nearestDam(name string, dams []book.Dam) string {
	named := map[string]string{}
	for _, d := range dams {
		named[strings.ToLower(d.Name)] = d.Name
	}
	return named[spelling.Nearest(name, slices.Sorted(maps.Keys(named)))]
}

// noteEntries notes the entries of a form. A refusal names the form's flags, and no
// keys that no person chose.
func (c *Client) noteEntries(ctx context.Context, f forms.Form, entries []book.Entry) error {
	var lines bytes.Buffer
	if err := bookfile.WriteJSON(&lines, slices.Values(entries)); err != nil {
		return err
	}
	err := c.Note(ctx, lines.Bytes())
	if err == nil {
		return nil
	}
	reasons := []string{err.Error()}
	if faults := (book.Faults{}); errors.As(err, &faults) {
		reasons = f.Refused(faults, func(name string, x forms.Field) string {
			if x.Name != "" {
				name = Flag(x)
			}
			return "--" + name
		})
	}
	return usererr.Reword(err, "nothing was noted: "+strings.Join(reasons, "\n"))
}

// Undo voids an entry and the places that its form made with it. It gives the entry
// and the entries that void it.
func (c *Client) Undo(ctx context.Context, key string) (target book.Entry, voids []book.Entry, err error) {
	at := thisSecond()
	b, err := c.book(ctx)
	if err != nil {
		return book.Entry{}, nil, err
	}
	target, by, ok := b.Entry(key)
	switch {
	case !ok:
		return book.Entry{}, nil, fmt.Errorf("the book has no entry with the key %q; ootherm book list prints them", key)
	case by != "":
		return book.Entry{}, nil, fmt.Errorf("%q is undone already", key)
	}
	voids = forms.Undo(b, target.Key, randomKey("u-"), at)
	return target, voids, c.noteEntries(ctx, forms.Form{}, voids)
}

// maxOfferedKeys limits the entries that completion offers for an undo (our choice).
const maxOfferedKeys = 20

// Undoable are the newest entries of a book that may be undone and whose keys begin
// with a text.
func Undoable(b *book.Book, begun string) (all []book.Entry) {
	for _, e := range slices.Backward(slices.Collect(b.Arrived())) {
		_, by, _ := b.Entry(e.Key)
		if by != "" || e.Kind == book.KindVoid || forms.Part(b, e) || !strings.HasPrefix(e.Key, begun) {
			continue
		}
		if all = append(all, e); len(all) == maxOfferedKeys {
			break
		}
	}
	return all
}

// RunningDesk is the state of the station that runs, for a shell that completes a
// command. It waits two seconds at most and opens no station where none runs.
func RunningDesk(ctx context.Context, path string) (forms.Desk, bool) {
	ctx, cancel := context.WithTimeout(ctx, 2*time.Second)
	defer cancel()
	c, err := DialRunning(ctx, path)
	if err != nil || c == nil {
		return forms.Desk{}, false
	}
	defer c.Close()
	desk, err := c.Desk(ctx, time.Now())
	return desk, err == nil
}
