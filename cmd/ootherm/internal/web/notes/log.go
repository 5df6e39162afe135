package notes

import (
	"crypto/sha256"
	"encoding/base32"
	"fmt"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/forms"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/thermal/book"
)

// Recent is an entry, and the form that undoes it: Mint is its key, At its time, Back the
// page that it leads back to. Without Mint nothing can be undone.
type Recent struct {
	Key, Mint, Text, When string
	At, Back              string
	Undone                bool
}

// Log is what was noted about a thing, the last first.
type Log struct {
	Noted   *Recent // what was noted just now
	Done    bool    // something was noted or undone just now
	Entries []Recent
	Total   int // how many there are, also those that are not listed
}

// undone is what an address says was done where an entry was undone.
const undone = "undone"

// recent is how many entries a page of the book lists.
const recent = 20

func anything(book.Entry) bool { return true }

// LogOf lists the entries that are wanted, the last first. What a form made together is one of
// the list. Forms on it lead back to a page. Whoever may not write cannot undo.
func (s Pages) LogOf(r *http.Request, b *book.Book, back string, wanted func(book.Entry) bool) Log {
	return s.LastOf(r, b, back, wanted, math.MaxInt)
}

// LastOf lists at most so many entries that are wanted, the last first.
func (s Pages) LastOf(r *http.Request, b *book.Book, back string, wanted func(book.Entry) bool, most int) Log {
	return s.part(r, b, back, wanted, 0, most)
}

// part is a part of a log: most entries after the first ones.
func (s Pages) part(r *http.Request, b *book.Book, back string, wanted func(book.Entry) bool, after, most int) (v Log) {
	asked := r.URL.Query()
	v.Done = asked.Has("noted")
	all := logged(b, wanted)
	listed := s.lister(r, b, back)
	if v.Done && asked.Get("noted") != undone {
		if i := slices.IndexFunc(all, func(e *book.Entry) bool { _, by, _ := b.Entry(e.Key); return by == "" }); i >= 0 {
			x := listed(*all[i])
			v.Noted, all = &x, slices.Delete(all, i, i+1)
		}
	}
	slices.SortStableFunc(all, func(a, b *book.Entry) int { return b.At.Compare(a.At) })
	v.Total = len(all)
	all = all[min(after, len(all)):]
	for _, e := range all[:min(most, len(all))] {
		v.Entries = append(v.Entries, listed(*e))
	}
	return v
}

// logged are the entries that are wanted, the last to arrive first; of those that a form made
// together the one that stands for all.
func logged(b *book.Book, wanted func(book.Entry) bool) (all []*book.Entry) {
	seen := map[string]bool{}
	for e := range b.Arrived() {
		if e.Kind == book.KindVoid || !wanted(e) {
			continue
		}
		if whole := forms.Whole(b, e); !seen[whole.Key] {
			seen[whole.Key] = true
			all = append(all, &whole)
		}
	}
	slices.Reverse(all)
	return all
}

// lister makes the lines of a log.
func (s Pages) lister(r *http.Request, b *book.Book, back string) func(book.Entry) Recent {
	noting, at := s.Writer != nil && s.Trusted(r), s.Clock()
	return func(e book.Entry) Recent {
		_, by, _ := b.Entry(e.Key)
		x := Recent{Key: e.Key, Text: forms.SaidWhole(b, e), When: s.Reader.When(e.At, at), Undone: by != ""}
		if noting {
			x.At, x.Back = page.Instant(at), back
			x.Mint = undoKey(x.Key, x.At)
		}
		return x
	}
}

// undoKey is the key under which an entry is undone at a time. A page that is asked for twice
// in one moment is the same, so a browser that has it is not sent it again.
func undoKey(key, at string) string {
	sum := sha256.Sum256([]byte(key + " " + at))
	return "u-" + strings.ToLower(base32.StdEncoding.EncodeToString(sum[:10]))
}

// EarlierHref is the address of a page of all that was noted; the first is 1.
func EarlierHref(number int) string { return "/noted?page=" + strconv.Itoa(number) }

// logPage is a part of all that was noted.
type logPage struct {
	page.Frame
	Log
	Title        string
	Later, Older string // lead to the parts beside it; empty: there is none
}

// ServeLog shows all that was noted, a part at a time.
func (s Pages) ServeLog(w http.ResponseWriter, r *http.Request) {
	n, b := s.Open(w, r)
	if b == nil {
		return
	}
	number, err := strconv.Atoi(r.URL.Query().Get("page"))
	if err != nil || number < 1 {
		number = 1
	}
	v := logPage{Frame: s.Frame(n, "All that was noted"), Log: s.part(r, b, "", anything, (number-1)*recent, recent)}
	parts := max(1, (v.Total+recent-1)/recent)
	if number > parts {
		number = parts
		v.Log = s.part(r, b, "", anything, (number-1)*recent, recent)
	}
	v.Here = "note"
	v.Title = fmt.Sprintf("All that was noted, part %d of %d", number, parts)
	if number > 1 {
		v.Later = EarlierHref(number - 1)
	}
	if number < parts {
		v.Older = EarlierHref(number + 1)
	}
	s.Render(w, http.StatusOK, "noted", v)
}
